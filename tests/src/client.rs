//! A client of the server under test.

use serde_json::Value as Json;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

/// Somebody who talks to the server, signed in or not.
#[derive(Clone)]
pub struct Client {
    /// The servers, which answer in turn.
    servers: Arc<Vec<String>>,
    turn: Arc<AtomicUsize>,
    token: Option<String>,
    agent: ureq::Agent,
}

/// An answer.
#[derive(Clone, Debug)]
pub struct Answer {
    /// HTTP status.
    pub status: u16,
    /// Headers, names in lower case.
    pub headers: Vec<(String, String)>,
    /// Body.
    pub text: String,
}

impl Answer {
    /// A header.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str())
    }
    /// Whether it leads to a page, whatever that page is to say.
    pub fn leads_to(&self, page: &str) -> bool {
        let to = self.header("location").unwrap_or_default();
        self.status == 303 && to.split('?').next() == Some(page)
    }
    /// The body as JSON; null when it is none.
    pub fn json(&self) -> Json {
        serde_json::from_str(&self.text).unwrap_or(Json::Null)
    }
    /// The answer, when it has this status.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}", self.text);
        self
    }
    /// Codes of the field errors with their pointers.
    pub fn errors(&self) -> Vec<(String, String)> {
        let json = self.json();
        let list = json["errors"].as_array().cloned().unwrap_or_default();
        let text = |e: &Json, m: &str| e[m].as_str().unwrap_or_default().to_owned();
        list.iter().map(|e| (text(e, "pointer"), text(e, "code"))).collect()
    }
    /// The items of a list.
    pub fn items(&self) -> Vec<Json> {
        self.json()["items"].as_array().cloned().unwrap_or_default()
    }
}

impl Client {
    /// One who is not signed in.
    pub fn new(servers: Vec<String>) -> Self {
        let agent = ureq::Agent::config_builder()
            .http_status_as_error(false)
            .timeout_global(Some(Duration::from_secs(60)))
            .build()
            .new_agent();
        Self { servers: Arc::new(servers), turn: Arc::default(), token: None, agent }
    }

    /// The same with a token.
    pub fn with_token(&self, token: &str) -> Self {
        Self { token: Some(token.to_owned()), ..self.clone() }
    }

    /// The same person, asking other servers.
    pub fn at(&self, others: &Self) -> Self {
        Self { token: self.token.clone(), ..others.clone() }
    }

    /// Sends a request.
    pub fn send(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<(&str, Vec<u8>)>,
    ) -> Answer {
        let turn = self.turn.fetch_add(1, Ordering::Relaxed) % self.servers.len();
        let url = format!("{}{path}", self.servers[turn]);
        let mut request = ureq::http::Request::builder().method(method).uri(url);
        if let Some(token) = &self.token {
            request = request.header("authorization", format!("Bearer {token}"));
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let answer = match body {
            Some((media, bytes)) => {
                let request = request.header("content-type", media).body(bytes).expect("request");
                self.agent.run(request)
            }
            None => self.agent.run(request.body(()).expect("request")),
        };
        Self::read(answer.expect("the server answers"))
    }

    fn read(mut answer: ureq::http::Response<ureq::Body>) -> Answer {
        let text = |v: &ureq::http::HeaderValue| v.to_str().unwrap_or_default().to_owned();
        Answer {
            status: answer.status().as_u16(),
            headers: answer.headers().iter().map(|(n, v)| (n.to_string(), text(v))).collect(),
            text: {
                let bytes = answer.body_mut().with_config().limit(200_000_000).read_to_vec();
                String::from_utf8_lossy(&bytes.unwrap_or_default()).into_owned()
            },
        }
    }

    /// Sends a request as a browser does: without a token, following nothing.
    pub fn send_plain(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<(&str, Vec<u8>)>,
    ) -> Answer {
        let agent = ureq::Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .max_redirects_will_error(false)
            .timeout_global(Some(Duration::from_secs(60)))
            .build()
            .new_agent();
        let plain = Self { token: None, agent, ..self.clone() };
        plain.send(method, path, headers, body)
    }

    /// GET.
    pub fn get(&self, path: &str) -> Answer {
        self.send("GET", path, &[], None)
    }

    /// POST of JSON.
    pub fn post(&self, path: &str, body: &Json) -> Answer {
        let body = body.to_string().into_bytes();
        self.send("POST", path, &[], Some(("application/json", body)))
    }

    /// POST of JSON to a server that may be gone: none where no whole answer came.
    pub fn try_post(&self, path: &str, body: &Json) -> Option<Answer> {
        let url = format!("{}{path}", self.servers.first()?);
        let mut request = ureq::http::Request::builder().method("POST").uri(url);
        request = request.header("content-type", "application/json");
        if let Some(token) = &self.token {
            request = request.header("authorization", format!("Bearer {token}"));
        }
        let request = request.body(body.to_string()).expect("request");
        self.agent.run(request).ok().map(Self::read)
    }

    /// PATCH of JSON with If-Match.
    pub fn patch(&self, path: &str, etag: &str, body: &Json) -> Answer {
        let body = body.to_string().into_bytes();
        let media = "application/merge-patch+json";
        self.send("PATCH", path, &[("if-match", etag)], Some((media, body)))
    }

    /// DELETE with If-Match.
    pub fn delete(&self, path: &str, etag: &str) -> Answer {
        self.send("DELETE", path, &[("if-match", etag)], None)
    }
}
