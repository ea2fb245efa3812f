//! Counters in the Prometheus text format.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

/// Upper bounds of the histogram's buckets, seconds.
const BUCKETS: [f64; 9] = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.1, 0.5, 2.5, 10.0];

#[derive(Clone, Copy, Debug, Default)]
struct Series {
    count: u64,
    seconds: f64,
    buckets: [u64; BUCKETS.len()],
}

/// Requests by operation and status.
#[derive(Debug, Default)]
pub struct Metrics {
    requests: Mutex<BTreeMap<(String, u16), Series>>,
}

impl Metrics {
    /// Counts a request.
    pub fn record(&self, operation: &str, status: u16, took: Duration) {
        let mut requests = self.requests.lock().unwrap_or_else(PoisonError::into_inner);
        let series = requests.entry((operation.to_owned(), status)).or_default();
        let seconds = took.as_secs_f64();
        series.count += 1;
        series.seconds += seconds;
        for (bucket, bound) in series.buckets.iter_mut().zip(BUCKETS) {
            *bucket += u64::from(seconds <= bound);
        }
    }

    /// All counters as text.
    #[must_use]
    pub fn text(&self) -> String {
        let requests = self.requests.lock().unwrap_or_else(PoisonError::into_inner);
        let name = "traybook_http_request_duration_seconds";
        let mut out = format!("# HELP {name} Time to answer.\n# TYPE {name} histogram\n");
        for ((operation, status), series) in requests.iter() {
            let labels = format!("operation=\"{operation}\",status=\"{status}\"");
            for (count, bound) in series.buckets.iter().zip(BUCKETS) {
                let _ = writeln!(out, "{name}_bucket{{{labels},le=\"{bound}\"}} {count}");
            }
            let count = series.count;
            let _ = writeln!(out, "{name}_bucket{{{labels},le=\"+Inf\"}} {count}");
            let _ = writeln!(out, "{name}_sum{{{labels}}} {}", series.seconds);
            let _ = writeln!(out, "{name}_count{{{labels}}} {count}");
        }
        out
    }
}
