//! A browser without script, as the tests of the pages use it.

use crate::client::{Answer, Client};
use crate::world::{PASSWORD, World};

/// A browser without script: it keeps cookies and follows nothing by itself.
pub struct Browser {
    client: Client,
    /// Cookies, by name.
    pub cookies: Vec<(String, String)>,
}

impl Browser {
    /// One that nobody has signed in with.
    pub fn new(w: &World) -> Self {
        Self { client: w.nobody.clone(), cookies: Vec::new() }
    }

    /// Sends a plain form, or asks for a page.
    fn send(&mut self, method: &str, path: &str, form: Option<String>) -> Answer {
        let media = "application/x-www-form-urlencoded";
        self.ask(method, path, form.map(|f| (media.to_owned(), f.into_bytes())), &[])
    }

    /// Asks for a page, with more headers than a browser sends by itself.
    pub fn ask(
        &mut self,
        method: &str,
        path: &str,
        body: Option<(String, Vec<u8>)>,
        more: &[(&str, &str)],
    ) -> Answer {
        let cookie: Vec<String> = self.cookies.iter().map(|(n, v)| format!("{n}={v}")).collect();
        let cookie = cookie.join("; ");
        let mut headers = vec![("cookie", cookie.as_str()), ("accept-encoding", "identity")];
        headers.extend(more);
        if body.is_some() {
            headers.push(("sec-fetch-site", "same-origin"));
        }
        let body = body.as_ref().map(|(media, bytes)| (media.as_str(), bytes.clone()));
        let answer = self.client.send_plain(method, path, &headers, body);
        for (name, value) in &answer.headers {
            if name == "set-cookie" {
                for part in ["Path=/", "Secure", "HttpOnly", "SameSite=Lax"] {
                    assert!(value.contains(part), "{value}");
                }
                let pair = value.split(';').next().expect("a pair");
                let (name, value) = pair.split_once('=').expect("a name");
                assert!(name.starts_with("__Host-"));
                self.cookies.retain(|(n, _)| n != name);
                self.cookies.push((name.to_owned(), value.to_owned()));
            }
        }
        answer
    }

    /// A page.
    pub fn get(&mut self, path: &str) -> Answer {
        self.send("GET", path, None)
    }

    /// The text of a page, which is there.
    pub fn page(&mut self, path: &str) -> String {
        self.get(path).expect(200).text
    }

    /// Chooses a language.
    pub fn speak(&mut self, language: &str) {
        let csrf = hidden(&self.page("/phone"), "csrf");
        let form = [("csrf", csrf.as_str()), ("language", language), ("back", "/phone")];
        assert_eq!(self.post("/language", &form).status, 303);
    }

    /// Sends a form.
    pub fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let pair = |(n, v): &(&str, &str)| {
            let plain = v.replace('%', "%25").replace('&', "%26").replace('+', "%2B");
            format!("{n}={}", plain.replace(' ', "+"))
        };
        let form: Vec<String> = fields.iter().map(pair).collect();
        self.send("POST", path, Some(form.join("&")))
    }

    /// Fills in the form of a page that goes to an address: what it holds stays, `fields` are set.
    pub fn fill(&mut self, page: &str, action: &str, fields: &[(&str, &str)]) -> Answer {
        let text = self.get(page).expect(200).text;
        self.fill_in(&text, action, fields)
    }

    /// The same of a page that is there already.
    pub fn fill_in(&mut self, text: &str, action: &str, fields: &[(&str, &str)]) -> Answer {
        let all = filled(text, action, fields);
        let all: Vec<(&str, &str)> = all.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
        self.post(action, &all)
    }

    /// The same as a form with files (RFC 7578).
    pub fn fill_with_files(
        &mut self,
        page: &str,
        action: &str,
        fields: &[(&str, &str)],
        files: &[(&str, &str, &[u8])],
    ) -> Answer {
        let text = self.get(page).expect(200).text;
        let all = filled(&text, action, fields);
        let all: Vec<(&str, &str)> = all.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
        self.send_with_files(action, &all, files)
    }

    /// Sends just these fields and files.
    pub fn send_with_files(
        &mut self,
        action: &str,
        fields: &[(&str, &str)],
        files: &[(&str, &str, &[u8])],
    ) -> Answer {
        let mut body = Vec::new();
        for (name, value) in fields {
            let head = format!("--cut\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n");
            body.extend(head.bytes().chain(value.bytes()).chain(*b"\r\n"));
        }
        for (name, file, bytes) in files {
            let head = format!(
                "--cut\r\ncontent-disposition: form-data; name=\"{name}\"; filename=\"{file}\"\r\n\
                 content-type: application/octet-stream\r\n\r\n"
            );
            body.extend(head.bytes().chain(bytes.iter().copied()).chain(*b"\r\n"));
        }
        body.extend(*b"--cut--\r\n");
        let media = "multipart/form-data; boundary=cut".to_owned();
        self.ask("POST", action, Some((media, body)), &[])
    }

    /// One that somebody of the first co-operative has signed in with.
    pub fn sign_in(w: &World, who: &str) -> Self {
        Self::sign_in_as(w, &format!("{who}.a@coop.example"))
    }

    /// The same by login.
    pub fn sign_in_as(w: &World, login: &str) -> Self {
        let mut browser = Self::new(w);
        let answer = browser.post("/sign-in", &[("login", login), ("password", PASSWORD)]);
        assert_eq!(answer.status, 303, "{}", answer.text);
        browser
    }
}

/// The value of a hidden field, the first of its name.
pub fn hidden(page: &str, name: &str) -> String {
    let mark = format!("name=\"{name}\" value=\"");
    let from = page.find(&mark).unwrap_or_else(|| panic!("no {name} in {page}")) + mark.len();
    page[from..].split('"').next().expect("a value").to_owned()
}

/// A text of a page as a person reads it.
fn plain(text: &str) -> String {
    let known = [("&#38;", "&"), ("&#39;", "'"), ("&#34;", "\""), ("&#60;", "<"), ("&#62;", ">")];
    known.iter().fold(text.to_owned(), |text, (code, sign)| text.replace(code, sign))
}

/// The fields of the form that goes to an address, as a browser would send them, with the given
/// ones set.
fn filled(page: &str, action: &str, fields: &[(&str, &str)]) -> Vec<(String, String)> {
    let mark = format!("action=\"{action}\" method=\"post\"");
    let from = page.find(&mark).unwrap_or_else(|| panic!("no form to {action} in {page}"));
    let form = page[from..].split("</form>").next().expect("a form");
    let of = |tag: &str, name: &str| {
        let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
        tag[from..].split('"').next().map(str::to_owned)
    };
    let mut all: Vec<(String, String)> = Vec::new();
    // Of a list the chosen entry is sent, and the first where none is chosen.
    let mut list: Option<(String, Option<String>)> = None;
    for tag in form.split('<') {
        let is = |name: &str| tag.starts_with(name);
        if is("select") {
            list = of(tag, "name").map(|name| (name, None));
        } else if is("option") {
            let value = of(tag, "value").map(|v| plain(&v));
            if let Some((_, chosen)) = &mut list
                && (chosen.is_none() || tag.contains(" selected"))
            {
                *chosen = value;
            }
        } else if is("/select") {
            all.extend(list.take().and_then(|(name, value)| Some((name, value?))));
        } else if is("textarea") {
            let text = tag.split_once('>').map(|(_, text)| plain(text)).unwrap_or_default();
            all.extend(of(tag, "name").map(|name| (name, text)));
        }
        if !is("input") {
            continue;
        }
        let kind = of(tag, "type").unwrap_or_default();
        let unset = matches!(kind.as_str(), "checkbox" | "radio") && !tag.contains(" checked");
        if unset || kind == "file" {
            continue;
        }
        let (Some(name), Some(value)) = (of(tag, "name"), of(tag, "value")) else { continue };
        all.push((name, plain(&value)));
    }
    for (name, value) in fields {
        all.retain(|(n, _)| n != name);
        all.push(((*name).to_owned(), (*value).to_owned()));
    }
    all
}
