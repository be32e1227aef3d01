//! A small server of one site, on this machine only.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use anyhow::{Context, Result};

use crate::site::{PAGE, Site};

/// Longest request line or header taken, in bytes.
const LONGEST_LINE: u64 = 8 * 1024;
/// Most header lines taken.
const MOST_HEADERS: usize = 100;

/// A running server; it serves until the program ends.
#[derive(Debug, Clone)]
pub struct Server {
    address: SocketAddr,
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    site: Mutex<Arc<Site>>,
    reachable: AtomicBool,
}

impl Server {
    /// Serves a site at a port of the loopback address; port 0 takes any free one.
    ///
    /// # Errors
    /// When the port is taken.
    pub fn start(site: Site, port: u16) -> Result<Self> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))
            .with_context(|| format!("port {port} cannot be used; another can be asked for with --port"))?;
        let address = listener.local_addr()?;
        let shared = Arc::new(Shared { site: Mutex::new(Arc::new(site)), reachable: AtomicBool::new(true) });
        let server = Self { address, shared: Arc::clone(&shared) };
        std::thread::spawn(move || {
            for connection in listener.incoming().flatten() {
                let shared = Arc::clone(&shared);
                // A connection that breaks is the browser's business.
                std::thread::spawn(move || drop(answer(connection, &shared)));
            }
        });
        Ok(server)
    }

    /// The site's address, ending in a slash.
    pub fn address(&self) -> String {
        format!("http://{}/", self.address)
    }

    /// Serves another site from now on.
    pub fn replace(&self, site: Site) {
        *self.shared.site.lock().unwrap_or_else(PoisonError::into_inner) = Arc::new(site);
    }

    /// Switches the server off (every connection is closed unanswered) or on again.
    pub fn set_reachable(&self, reachable: bool) {
        self.shared.reachable.store(reachable, Ordering::SeqCst);
    }
}

fn answer(connection: TcpStream, shared: &Shared) -> std::io::Result<()> {
    if !shared.reachable.load(Ordering::SeqCst) {
        return Ok(());
    }
    connection.set_read_timeout(Some(Duration::from_secs(30)))?;
    let mut reader = BufReader::new(connection.try_clone()?);
    let request = line(&mut reader)?;
    for _ in 0..MOST_HEADERS {
        if line(&mut reader)?.is_empty() {
            break;
        }
    }
    if !shared.reachable.load(Ordering::SeqCst) {
        return Ok(());
    }
    let site = Arc::clone(&shared.site.lock().unwrap_or_else(PoisonError::into_inner));
    let (status, kind, content) = reply(&request, &site);
    let head_only = request.starts_with("HEAD ");
    let mut writer = connection;
    write!(
        writer,
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nCache-Control: no-store\r\n\
         X-Content-Type-Options: nosniff\r\nConnection: close\r\n\r\n",
        content.len()
    )?;
    if !head_only {
        writer.write_all(content)?;
    }
    writer.flush()
}

fn line(reader: &mut BufReader<TcpStream>) -> std::io::Result<String> {
    let mut bytes = Vec::new();
    reader.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut bytes)?;
    Ok(String::from_utf8_lossy(&bytes).trim_end().to_owned())
}

/// The answer to a request line: status, type and content.
fn reply<'a>(request: &str, site: &'a Site) -> (&'static str, &'static str, &'a [u8]) {
    let mut words = request.split(' ');
    let (method, address) = (words.next().unwrap_or_default(), words.next().unwrap_or_default());
    if !matches!(method, "GET" | "HEAD") {
        return ("405 Method Not Allowed", "text/plain; charset=utf-8", b"only GET and HEAD");
    }
    let path = address.split(['?', '#']).next().unwrap_or_default().trim_start_matches('/');
    let name = if path.is_empty() { PAGE } else { path };
    match site.files.get(name) {
        Some(content) => ("200 OK", kind_of(name), content),
        None => ("404 Not Found", "text/plain; charset=utf-8", b"not found"),
    }
}

fn kind_of(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, extension)| extension) {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("wasm") => "application/wasm",
        Some("webmanifest") => "application/manifest+json",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("txt") => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    fn site() -> Site {
        Site { files: BTreeMap::from([(PAGE.to_owned(), b"page".to_vec()), ("app.wasm".to_owned(), vec![0])]) }
    }

    #[test]
    fn the_folder_itself_is_the_page() {
        assert_eq!(reply("GET / HTTP/1.1", &site()).2, b"page");
        assert_eq!(reply("GET /?x=1 HTTP/1.1", &site()).2, b"page");
    }

    #[test]
    fn wasm_has_the_type_that_streams() {
        assert_eq!(reply("GET /app.wasm HTTP/1.1", &site()).1, "application/wasm");
    }

    #[test]
    fn nothing_outside_the_site_is_served() {
        for address in ["/../Cargo.toml", "/%2e%2e/Cargo.toml", "/etc/passwd", "/app.wasm/"] {
            assert_eq!(reply(&format!("GET {address} HTTP/1.1"), &site()).0, "404 Not Found", "{address}");
        }
        assert_eq!(reply("POST / HTTP/1.1", &site()).0, "405 Method Not Allowed");
    }

    #[test]
    fn a_server_switched_off_answers_nothing() {
        let server = Server::start(site(), 0).unwrap();
        let ask = || {
            let mut stream = TcpStream::connect(server.address).unwrap();
            let _ = stream.write_all(b"GET / HTTP/1.1\r\n\r\n");
            let mut text = String::new();
            let _ = stream.read_to_string(&mut text);
            text
        };
        assert!(ask().ends_with("page"));
        server.set_reachable(false);
        assert_eq!(ask(), "");
        server.set_reachable(true);
        assert!(ask().ends_with("page"));
    }
}
