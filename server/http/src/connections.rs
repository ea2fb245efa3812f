//! What one client may hold open: connections by address, and bodies that come too slowly.

use crate::serve::network;
use actix_tls::accept::rustls_0_23::TlsStream;
use actix_web::dev::Extensions;
use actix_web::error::PayloadError;
use actix_web::rt::net::TcpStream;
use actix_web::rt::time::{Instant, Sleep, sleep};
use actix_web::web::{Bytes, Payload};
use futures_core::Stream;
use std::any::Any;
use std::collections::HashMap;
use std::net::Shutdown;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;
use traybook_domain::limits::BODY_BYTES_A_SECOND_MIN;

/// Connections by address. An address whose last one is closed is forgotten.
#[derive(Debug)]
pub struct Connections {
    max: usize,
    by_address: Mutex<HashMap<String, usize>>,
}

/// One connection that counts, until it is closed.
struct Counted {
    all: Arc<Connections>,
    address: String,
}

impl Connections {
    /// So many an address.
    #[must_use]
    pub fn new(max: usize) -> Arc<Self> {
        Arc::new(Self { max, by_address: Mutex::default() })
    }

    /// Counts a new connection; one too many is closed before anything of it is read.
    pub fn begin(self: &Arc<Self>, connection: &dyn Any, data: &mut Extensions) {
        let by_tls = || connection.downcast_ref::<TlsStream<TcpStream>>().map(|s| s.get_ref().0);
        let Some(stream) = connection.downcast_ref::<TcpStream>().or_else(by_tls) else { return };
        let Ok(peer) = stream.peer_addr() else { return };
        let address = network(peer.ip());
        let mut by_address = self.by_address.lock().unwrap_or_else(PoisonError::into_inner);
        let count = by_address.entry(address.clone()).or_default();
        *count += 1;
        if *count > self.max {
            drop(socket2::SockRef::from(stream).shutdown(Shutdown::Both));
        }
        data.insert(Counted { all: Arc::clone(self), address });
    }

    /// Addresses that hold connections.
    #[must_use]
    pub fn addresses(&self) -> usize {
        self.by_address.lock().unwrap_or_else(PoisonError::into_inner).len()
    }
}

impl Drop for Counted {
    fn drop(&mut self) {
        let mut all = self.all.by_address.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = all.get_mut(&self.address) {
            *count = count.saturating_sub(1);
            if *count == 0 {
                all.remove(&self.address);
            }
        }
    }
}

/// A body that must come at a least rate, after some grace.
pub(crate) struct Paced {
    payload: Payload,
    ends: Pin<Box<Sleep>>,
    begun: Instant,
    grace: Duration,
    received: u64,
}

impl Paced {
    pub(crate) fn new(payload: Payload, grace: Duration) -> Self {
        let begun = Instant::now();
        Self { payload, ends: Box::pin(sleep(grace)), begun, grace, received: 0 }
    }
}

impl Stream for Paced {
    type Item = Result<Bytes, PayloadError>;

    fn poll_next(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        let this = self.get_mut();
        if this.ends.as_mut().poll(cx).is_ready() {
            let slow = std::io::ErrorKind::TimedOut;
            return Poll::Ready(Some(Err(PayloadError::Io(slow.into()))));
        }
        let next = Pin::new(&mut this.payload).poll_next(cx);
        if let Poll::Ready(Some(Ok(bytes))) = &next {
            this.received += u64::try_from(bytes.len()).unwrap_or(0);
            let earned = Duration::from_secs(this.received / BODY_BYTES_A_SECOND_MIN);
            this.ends.as_mut().reset(this.begun + this.grace + earned);
        }
        next
    }
}

/// Whether a body was given up as too slow.
pub(crate) fn is_slow(error: &PayloadError) -> bool {
    matches!(error, PayloadError::Io(e) if e.kind() == std::io::ErrorKind::TimedOut)
}
