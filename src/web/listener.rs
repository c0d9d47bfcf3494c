//! Connections that must not be held open by saying nothing: a request's head within seconds, no silence of minutes.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::serve::Listener;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::{Instant, Sleep};

/// Connections at once; a room has some dozen devices, each opens six at most.
const MOST: usize = 256;
/// Time for the head of the first request.
const HEAD: Duration = Duration::from_secs(20);
/// Longest silence afterwards; the longest wait for an answer is two minutes.
const SILENCE: Duration = Duration::from_secs(300);
/// End of a request's head.
const END: &[u8] = b"\r\n\r\n";

/// A listener of such connections.
pub struct Patient {
    listener: TcpListener,
    places: Arc<Semaphore>,
}

impl Patient {
    pub fn new(listener: TcpListener) -> Self {
        Self {
            listener,
            places: Arc::new(Semaphore::new(MOST)),
        }
    }
}

impl Listener for Patient {
    type Io = Hurried;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Hurried, SocketAddr) {
        loop {
            let place = self.places.clone().acquire_owned().await;
            match (place, self.listener.accept().await) {
                (Ok(place), Ok((stream, from))) => return (Hurried::new(stream, place), from),
                // No more files may be open: some are closed in a moment.
                _ => tokio::time::sleep(Duration::from_millis(200)).await,
            }
        }
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        self.listener.local_addr()
    }
}

/// A connection with a limit to its silence.
pub struct Hurried {
    stream: TcpStream,
    limit: Pin<Box<Sleep>>,
    /// Bytes of the head's end seen so far; `None` once it is whole.
    seen: Option<usize>,
    _place: OwnedSemaphorePermit,
}

impl Hurried {
    fn new(stream: TcpStream, place: OwnedSemaphorePermit) -> Self {
        Self {
            stream,
            limit: Box::pin(tokio::time::sleep(HEAD)),
            seen: Some(0),
            _place: place,
        }
    }

    /// This end of the connection.
    pub fn local_addr(&self) -> io::Result<SocketAddr> {
        self.stream.local_addr()
    }

    /// Notes bytes that came or went; before the head is whole they buy no more time.
    fn moved(&mut self, bytes: &[u8]) {
        if let Some(seen) = self.seen {
            self.seen = end_seen(seen, bytes);
        }
        if self.seen.is_none() {
            self.limit.as_mut().reset(Instant::now() + SILENCE);
        }
    }

    fn is_late(&mut self, context: &mut Context<'_>) -> bool {
        self.limit.as_mut().poll(context).is_ready()
    }
}

/// Bytes of the head's end seen after `bytes`, `None` where it is whole.
fn end_seen(mut seen: usize, bytes: &[u8]) -> Option<usize> {
    for byte in bytes {
        seen = match byte {
            byte if *byte == END[seen] => seen + 1,
            b'\r' => 1,
            _ => 0,
        };
        if seen == END.len() {
            return None;
        }
    }
    Some(seen)
}

impl AsyncRead for Hurried {
    fn poll_read(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        let before = buffer.filled().len();
        let read = Pin::new(&mut this.stream).poll_read(context, buffer);
        match read {
            Poll::Pending if this.is_late(context) => {
                Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
            }
            Poll::Ready(Ok(())) => {
                this.moved(&buffer.filled()[before..]);
                // A byte now and then does not make a head.
                let is_late = this.seen.is_some() && this.is_late(context);
                Poll::Ready(if is_late {
                    Err(io::ErrorKind::TimedOut.into())
                } else {
                    Ok(())
                })
            }
            read => read,
        }
    }
}

impl AsyncWrite for Hurried {
    fn poll_write(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let this = self.get_mut();
        let written = Pin::new(&mut this.stream).poll_write(context, bytes);
        match written {
            Poll::Pending if this.is_late(context) => {
                Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
            }
            written => {
                if written.is_ready() {
                    this.moved(&[]);
                }
                written
            }
        }
    }

    fn poll_flush(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_flush(context)
    }

    fn poll_shutdown(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().stream).poll_shutdown(context)
    }
}

#[cfg(test)]
mod tests {
    use super::end_seen;

    #[test]
    fn the_end_of_a_head_is_seen_however_it_comes() {
        let head = b"GET / HTTP/1.1\r\nHost: a\r\n\r\n";
        assert_eq!(end_seen(0, head), None);
        let mut seen = Some(0);
        for byte in head {
            seen = end_seen(seen.expect("not before the last byte"), &[*byte]);
        }
        assert_eq!(seen, None);
        assert_eq!(end_seen(0, b"a\r\n\r"), Some(3));
        assert_eq!(end_seen(3, b"\r\n"), Some(2));
        assert_eq!(end_seen(0, b"\r\r\n\r\n"), None);
    }
}
