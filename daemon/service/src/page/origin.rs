//! Where a request comes from: by which name the page was called, and whether another site sent the browser.

use std::net::IpAddr;

use axum::http::{HeaderMap, Method, Uri, header};

/// Why a request is not answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refused {
    /// Called by a name that is not ours: a name of somebody else's may point here (DNS rebinding).
    Name,
    /// Sent by a page of another site.
    CrossSite,
}

/// Whether the page was called by an address, as `localhost`, or by one of its own names.
///
/// An address cannot be rebound: a browser that was led here by a foreign name says that name.
///
/// # Errors
/// [`Refused::Name`].
pub(super) fn called_by_own_name(headers: &HeaderMap, names: &[String]) -> Result<(), Refused> {
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).ok_or(Refused::Name)?;
    let authority: axum::http::uri::Authority = host.parse().map_err(|_| Refused::Name)?;
    let name = authority.host().trim_matches(['[', ']']).trim_end_matches('.').to_ascii_lowercase();
    let own = name.parse::<IpAddr>().is_ok() || name == "localhost" || names.contains(&name);
    if own { Ok(()) } else { Err(Refused::Name) }
}

/// Whether the request is of the page itself, was typed or followed by a person, or comes from no browser.
///
/// Browsers say where a request comes from in `Sec-Fetch-Site` (W3C Fetch Metadata) and, where something is to be changed, in
/// `Origin` (RFC 6454). A link from elsewhere may open the page, and may do nothing else.
///
/// # Errors
/// [`Refused::CrossSite`].
pub(super) fn not_cross_site(method: &Method, headers: &HeaderMap) -> Result<(), Refused> {
    let text = |name: &str| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
    let reading = method.is_safe();
    match text("sec-fetch-site") {
        None | Some("same-origin" | "none") => {}
        Some(_) => {
            let opened =
                text("sec-fetch-mode") == Some("navigate") && text("sec-fetch-dest") == Some("document");
            if !(reading && opened) {
                return Err(Refused::CrossSite);
            }
        }
    }
    if reading {
        return Ok(());
    }
    match text("origin") {
        None => Ok(()),
        Some(origin) => {
            let origin: Uri = origin.parse().map_err(|_| Refused::CrossSite)?;
            let same = origin.authority().map(|authority| authority.as_str()) == text("host");
            if same { Ok(()) } else { Err(Refused::CrossSite) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &str)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (name.parse().unwrap(), value.parse().unwrap())).collect()
    }

    #[test]
    fn only_addresses_and_own_names_are_answered() {
        let names = ["benches.example".to_owned()];
        let called = |host: &str| called_by_own_name(&headers(&[("host", host)]), &names).is_ok();
        for own in [
            "127.0.0.1:8750",
            "[::1]:8750",
            "localhost:8750",
            "192.168.1.7",
            "benches.example",
            "Benches.Example.:443",
        ] {
            assert!(called(own), "{own}");
        }
        for foreign in [
            "evil.example:8750",
            "localhost.evil.example",
            "benches.example.evil",
            "127.0.0.1.evil.example",
            "a b",
        ] {
            assert!(!called(foreign), "{foreign}");
        }
        assert_eq!(called_by_own_name(&HeaderMap::new(), &names), Err(Refused::Name));
    }

    /// What Chromium and Firefox send, by the W3C's Fetch Metadata Request Headers and RFC 6454.
    #[test]
    fn another_site_may_open_the_page_and_do_nothing_else() {
        let of = |method: Method, pairs: &[(&'static str, &str)]| {
            let mut all = vec![("host", "127.0.0.1:8750")];
            all.extend_from_slice(pairs);
            not_cross_site(&method, &headers(&all)).is_ok()
        };
        let link = [
            ("sec-fetch-site", "cross-site"),
            ("sec-fetch-mode", "navigate"),
            ("sec-fetch-dest", "document"),
        ];
        assert!(of(Method::GET, &link));
        let frame =
            [("sec-fetch-site", "cross-site"), ("sec-fetch-mode", "navigate"), ("sec-fetch-dest", "iframe")];
        assert!(!of(Method::GET, &frame));
        let picture =
            [("sec-fetch-site", "cross-site"), ("sec-fetch-mode", "no-cors"), ("sec-fetch-dest", "image")];
        assert!(!of(Method::GET, &picture));
        // another port of this machine is another program
        assert!(!of(Method::GET, &[("sec-fetch-site", "same-site"), ("sec-fetch-mode", "cors")]));
        let own = ("origin", "http://127.0.0.1:8750");
        assert!(of(Method::POST, &[("sec-fetch-site", "same-origin"), own]));
        assert!(of(Method::POST, &[own]), "a browser without fetch metadata");
        assert!(of(Method::POST, &[]), "no browser");
        assert!(!of(Method::POST, &[("sec-fetch-site", "cross-site"), ("origin", "http://evil.example")]));
        assert!(!of(Method::POST, &link));
        for origin in ["http://evil.example", "http://127.0.0.1:9000", "null", "http://127.0.0.1"] {
            assert!(!of(Method::POST, &[("origin", origin)]), "{origin}");
        }
    }
}
