//! Grades photos a few at a time, and remembers the latest answers: a photo graded again gives the same, only later.

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use axum::http::StatusCode;
use catchcup::book::photo_store::digest;
use catchcup::error::Error;
use catchcup::ladder::Shelf;
use catchcup::report::crop_jpegs;
use catchcup::report::small_screen_jpeg;
use catchcup::scoop::{Graded, Netted, Order, Scoop, grade_photo};
use tokio::sync::{Semaphore, oneshot, watch};

use super::trouble::Trouble;

/// Photos graded at once: one of 12 megapixels holds some hundred megabytes while it is graded.
const AT_ONCE: usize = 2;
/// Answers remembered; each holds about 2 MB of pictures.
const REMEMBERED: usize = 24;
/// How long a photo waits for its turn, and a picture for its drawing.
const PATIENCE: Duration = Duration::from_secs(60);

/// Pictures of single animals by number.
type Crops = Arc<Vec<(u32, Vec<u8>)>>;

/// A graded photo as it is shown.
#[derive(Debug)]
pub struct Shown {
    key: String,
    pub scoop: Scoop,
    /// The photo with its rings, JPEG.
    pub overlay: Vec<u8>,
    /// Its width and height.
    pub size: [u32; 2],
    crops: watch::Sender<Option<Crops>>,
}

impl Shown {
    /// The picture of an animal, once it is drawn; `None` where there is no such animal.
    pub async fn crop(&self, no: u32) -> Option<Vec<u8>> {
        let mut drawn = self.crops.subscribe();
        let drawn = tokio::time::timeout(PATIENCE, drawn.wait_for(Option::is_some));
        let crops = drawn.await.ok()?.ok()?.clone()?;
        let found = crops.iter().find(|(number, _)| *number == no)?;
        Some(found.1.clone())
    }
}

pub struct Grader {
    turns: Arc<Semaphore>,
    latest: Arc<Mutex<VecDeque<Arc<Shown>>>>,
}

/// A photo to be graded.
pub struct Task {
    pub name: String,
    pub bytes: Arc<Vec<u8>>,
    pub order: Order,
    pub shelf: Shelf,
}

impl Task {
    /// The same photo with the same order gives the same answer.
    fn key(&self) -> String {
        let ladder = self.order.ladder.as_ref().map(|ladder| &ladder.sha256);
        let netted = match self.order.netted {
            Netted::Ago(seconds) => Some(seconds),
            _ => None,
        };
        let sex = self.order.sex;
        format!("{} {ladder:?} {netted:?} {sex:?}", digest(&self.bytes))
    }
}

impl Grader {
    pub fn new() -> Self {
        Self {
            turns: Arc::new(Semaphore::new(AT_ONCE)),
            latest: Arc::default(),
        }
    }

    /// The graded photo, remembered or graded now. Pictures of single animals are drawn after the answer.
    pub async fn shown(&self, task: Task) -> Result<Arc<Shown>, Trouble> {
        let key = task.key();
        if let Some(known) = self.remembered(&key) {
            return Ok(known);
        }
        let turn = tokio::time::timeout(PATIENCE, self.turns.clone().acquire_owned()).await;
        let turn = turn.ok().and_then(Result::ok).ok_or_else(busy)?;
        // Another request may have had it graded while this one waited.
        if let Some(known) = self.remembered(&key) {
            return Ok(known);
        }
        let (answer, asked) = oneshot::channel();
        let latest = self.latest.clone();
        tokio::task::spawn_blocking(move || {
            let _turn = turn;
            let fault = |_| Err(Error::bug("the program failed on this photo"));
            let work = || graded(&task, key);
            match catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(fault) {
                Err(error) => {
                    let _ = answer.send(Err(error));
                }
                Ok((graded, shown)) => {
                    remember(&latest, shown.clone());
                    let _ = answer.send(Ok(shown.clone()));
                    let draw = || crop_jpegs(&graded).unwrap_or_default();
                    let crops = catch_unwind(AssertUnwindSafe(draw)).unwrap_or_default();
                    shown.crops.send_replace(Some(Arc::new(crops)));
                }
            }
        });
        let fault = |_| Error::bug("the program failed on this photo");
        Ok(asked.await.map_err(fault)??)
    }

    /// Heavy work on a photo, in its turn.
    pub async fn in_turn<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Trouble> {
        let turn = tokio::time::timeout(PATIENCE, self.turns.clone().acquire_owned()).await;
        let turn = turn.ok().and_then(Result::ok).ok_or_else(busy)?;
        let done = tokio::task::spawn_blocking(move || {
            let _turn = turn;
            work()
        });
        Ok(done
            .await
            .map_err(|_| Error::bug("the program failed on this photo"))?)
    }

    /// A picture drawn from the photo graded anew.
    pub async fn drawn(
        &self,
        task: Task,
        draw: impl FnOnce(&Graded) -> Result<Vec<u8>, Error> + Send + 'static,
    ) -> Result<Vec<u8>, Trouble> {
        let work = move || {
            let order = &task.order;
            draw(&grade_photo(
                &task.name,
                task.bytes.as_slice(),
                order,
                &task.shelf,
            )?)
        };
        Ok(self.in_turn(work).await??)
    }

    fn remembered(&self, key: &str) -> Option<Arc<Shown>> {
        let latest = self.latest.lock().ok()?;
        latest.iter().find(|shown| shown.key == key).cloned()
    }
}

fn busy() -> Trouble {
    Trouble::new(
        StatusCode::SERVICE_UNAVAILABLE,
        "busy",
        "many photos are being graded at this moment; yours was not",
        "send it again in a minute",
    )
}

fn graded(task: &Task, key: String) -> Result<(Graded, Arc<Shown>), Error> {
    let graded = grade_photo(&task.name, task.bytes.as_slice(), &task.order, &task.shelf)?;
    let (overlay, size) = small_screen_jpeg(&graded)?;
    let shown = Arc::new(Shown {
        key,
        scoop: graded.scoop.clone(),
        overlay,
        size,
        crops: watch::Sender::new(None),
    });
    Ok((graded, shown))
}

fn remember(latest: &Mutex<VecDeque<Arc<Shown>>>, shown: Arc<Shown>) {
    if let Ok(mut latest) = latest.lock() {
        latest.push_front(shown);
        latest.truncate(REMEMBERED);
    }
}
