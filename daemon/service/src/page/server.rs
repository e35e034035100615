//! Listening, on a runtime of its own: whatever the page's visitors do, the watch has its threads for itself.

use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::{Extension, Router};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::runtime::Builder;
use tokio::sync::watch;
use tracing::{debug, error, info, warn};

use super::guard::Peer;
use super::places::{Place, Places};
use super::{House, routes};

/// Threads that read the record or check a password.
const READING_THREADS: usize = 4;
/// A request's head is to be there so long after the connection began, or after the answer before it; and is this long at most.
const HEAD_WITHIN: Duration = Duration::from_secs(10);
const HEAD_BYTES: usize = 16 << 10;
/// A connection is closed after this time, whatever goes on: a page that is open connects again, a dead one does not.
const CONNECTION_LASTS: Duration = Duration::from_secs(1800);
/// Pauses between attempts to listen.
const PAUSES_S: [u64; 4] = [1, 5, 15, 60];
/// At the stop, what is under way has this long.
const FAREWELL: Duration = Duration::from_secs(1);

/// Serves the page until `stop` says so. It keeps its thread for itself.
pub fn serve(house: House, listen: SocketAddr, stop: watch::Receiver<bool>) {
    let runtime = Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(READING_THREADS)
        .thread_name("page")
        .build();
    let runtime = match runtime {
        Ok(runtime) => runtime,
        Err(error) => return error!("there is no page, for it has no runtime: {error}; the watch goes on"),
    };
    let routes = routes(Arc::new(house));
    runtime.block_on(keep_serving(routes, listen, stop));
    runtime.shutdown_timeout(FAREWELL);
}

/// Listens, and again if that fails or breaks off.
async fn keep_serving(routes: Router, listen: SocketAddr, mut stop: watch::Receiver<bool>) {
    let mut failures = 0_usize;
    loop {
        match TcpListener::bind(listen).await {
            Ok(listener) => {
                failures = 0;
                // where the system chose the port, that one
                info!("the page is at http://{}/", listener.local_addr().unwrap_or(listen));
                // a task of its own: a fault of ours in it is told below and ends nothing else
                match tokio::spawn(accept(listener, routes.clone(), stop.clone())).await {
                    Ok(()) => return,
                    Err(error) => {
                        error!("the page broke off ({error}); it begins again, and the watch goes on")
                    }
                }
            }
            Err(error) if failures == 0 => warn!(
                "the page cannot listen on {listen}: {error}; it is tried again, and the watch goes on. If another program \
                 has the port, give another in [page] listen"
            ),
            Err(_) => {}
        }
        let pause = PAUSES_S.get(failures).or(PAUSES_S.last()).copied().unwrap_or_default();
        failures += 1;
        tokio::select! {
            _ = stop.wait_for(|stop| *stop) => return,
            () = tokio::time::sleep(Duration::from_secs(pause)) => {}
        }
    }
}

async fn accept(listener: TcpListener, routes: Router, mut stop: watch::Receiver<bool>) {
    let places = Arc::<Places>::default();
    loop {
        let accepted = tokio::select! {
            _ = stop.wait_for(|stop| *stop) => return,
            accepted = listener.accept() => accepted,
        };
        match accepted {
            Ok((stream, peer)) => {
                let place = places.take(peer.ip(), Instant::now());
                tokio::spawn(talk(stream, peer, Arc::new(place), routes.clone()));
            }
            Err(error) => {
                debug!("a connection was not made: {error}");
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
        }
    }
}

async fn talk(stream: TcpStream, peer: SocketAddr, place: Arc<Place>, routes: Router) {
    let other_end = Peer { address: peer.ip(), place: Arc::clone(&place) };
    let service = TowerToHyperService::new(routes.layer(Extension(other_end)));
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_WITHIN)
        .max_buf_size(HEAD_BYTES)
        .serve_connection(TokioIo::new(stream), service);
    tokio::select! {
        ended = tokio::time::timeout(CONNECTION_LASTS, connection) => {
            if let Ok(Err(error)) = ended {
                debug!(%peer, "a connection broke off: {error}");
            }
        }
        () = place.is_wanted() => debug!(%peer, "a connection gave way to a newer one"),
    }
}

/// Whether the page could listen there.
///
/// # Errors
/// The system's reason.
pub fn try_to_listen(listen: SocketAddr) -> io::Result<()> {
    std::net::TcpListener::bind(listen).map(drop)
}
