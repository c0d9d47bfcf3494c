//! Runs targets on changed bytes, on all cores, and keeps what went wrong.

use std::collections::{BTreeMap, HashSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::draw::Draw;
use super::targets::{Outcome, Target};

/// A run that takes longer hangs.
const HANG: Duration = Duration::from_secs(2);
/// After this the whole process is stopped: the run will not come back by itself.
const LOST: Duration = Duration::from_secs(120);
/// Runs that grow from the same seeds, so that what was found new is built upon.
const BLOCK: usize = 20_000;
/// Most files to start from in a block.
const MOST_SEEDS: usize = 300;

/// What happened.
#[derive(Debug, Default)]
pub struct Tally {
    pub runs: usize,
    /// Runs in which the bytes were read.
    pub read: usize,
    /// Longest run.
    pub longest: Duration,
    /// By what went wrong: how often, and one case.
    pub faults: BTreeMap<String, (usize, Vec<u8>)>,
}

impl Tally {
    fn add(&mut self, other: Tally) {
        self.runs += other.runs;
        self.read += other.read;
        self.longest = self.longest.max(other.longest);
        for (what, (count, case)) in other.faults {
            self.faults.entry(what).or_insert((0, case)).0 += count;
        }
    }
}

/// Where the last panic came from.
static PLACE: Mutex<String> = Mutex::new(String::new());

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Notes where panics come from in place of printing them.
pub fn quiet() {
    std::panic::set_hook(Box::new(|info| {
        let place = info
            .location()
            .map_or_else(String::new, ToString::to_string);
        let text = info.payload_as_str().unwrap_or("no text");
        *lock(&PLACE) = format!("{place}: {}", text.chars().take(200).collect::<String>());
    }));
}

/// What each thread is at, for the watch.
type AtWork = Mutex<Option<(Instant, Vec<u8>)>>;

/// Runs `target` `runs` times; the same seed gives the same runs whatever the number of threads.
pub fn run(target: &Target, runs: usize, seed: u64, threads: usize) -> Tally {
    let blocks = runs.div_ceil(BLOCK);
    let next = AtomicUsize::new(0);
    let busy = AtomicUsize::new(threads);
    let total = Mutex::new(Tally::default());
    let at_work: Vec<AtWork> = (0..threads).map(|_| Mutex::new(None)).collect();
    std::thread::scope(|scope| {
        for at_work in &at_work {
            let (next, busy, total) = (&next, &busy, &total);
            scope.spawn(move || {
                in_own_pool(|| {
                    loop {
                        let block = next.fetch_add(1, Ordering::Relaxed);
                        if block >= blocks {
                            break;
                        }
                        let count = BLOCK.min(runs - block * BLOCK);
                        let draw = Draw::new(seed ^ (block as u64) << 32);
                        lock(total).add(run_block(target, count, draw, at_work));
                    }
                });
                busy.fetch_sub(1, Ordering::Release);
            });
        }
        while busy.load(Ordering::Acquire) > 0 {
            std::thread::sleep(Duration::from_millis(20));
            at_work.iter().for_each(|at_work| watch(target, at_work));
        }
    });
    total.into_inner().unwrap_or_else(PoisonError::into_inner)
}

/// Each thread has a pool of two of its own: in a common pool a run that waits would meanwhile start another run.
fn in_own_pool(work: impl FnOnce() + Send) {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(2)
        .use_current_thread();
    pool.build().expect("threads").install(work);
}

/// Stops everything when a run does not come back.
fn watch(target: &Target, at_work: &AtWork) {
    let lost = lock(at_work)
        .as_ref()
        .filter(|(since, _)| since.elapsed() > LOST)
        .cloned();
    if let Some((_, case)) = lost {
        let file = keep(target.name, "lost", &case);
        eprintln!(
            "{}: a run does not come back: {}",
            target.name,
            file.display()
        );
        std::process::exit(101);
    }
}

fn run_block(target: &Target, count: usize, mut draw: Draw, at_work: &AtWork) -> Tally {
    // Files that were read are the better ones to start from: most changes of a refused one are refused alike.
    let (mut seeds, mut refused) = (target.seeds.clone(), target.seeds.clone());
    let mut known = HashSet::new();
    let mut tally = Tally::default();
    for _ in 0..count {
        let from = if draw.once_in(4) { &refused } else { &seeds };
        let mut case: Vec<u8> = draw.pick(from).clone();
        for _ in 0..=[0, 0, 0, 1, 1, 2, 4][draw.below(7)] {
            case = (target.change)(&mut draw, &case, &seeds);
        }
        let start = Instant::now();
        *lock(at_work) = Some((start, case.clone()));
        let answer = catch_unwind(AssertUnwindSafe(|| (target.run)(&case)));
        let took = start.elapsed();
        *lock(at_work) = None;
        tally.runs += 1;
        tally.longest = tally.longest.max(took);
        if took > HANG && hangs(target, &case) {
            fault(&mut tally, format!("hangs: {}", kind(&answer)), case);
            continue;
        }
        match answer {
            Ok(outcome) => {
                let read = matches!(outcome, Outcome::Read(_));
                tally.read += usize::from(read);
                let pool = if read { &mut seeds } else { &mut refused };
                if pool.len() < MOST_SEEDS && known.insert(format!("{outcome:?}")) {
                    pool.push(case);
                }
            }
            Err(_) => {
                let place = lock(&PLACE).clone();
                fault(&mut tally, place, case);
            }
        }
    }
    tally
}

fn kind(answer: &std::thread::Result<Outcome>) -> String {
    answer
        .as_ref()
        .map_or_else(|_| "then panics".into(), |outcome| format!("{outcome:?}"))
}

fn fault(tally: &mut Tally, what: String, case: Vec<u8>) {
    tally.faults.entry(what).or_insert((0, case)).0 += 1;
}

/// True where the run takes long again by the processor's time, not only by the clock of a busy machine.
fn hangs(target: &Target, case: &[u8]) -> bool {
    let (before, start) = (time_on_processor(), Instant::now());
    let _ = catch_unwind(AssertUnwindSafe(|| (target.run)(case)));
    let took = match (before, time_on_processor()) {
        (Some(before), Some(after)) => after - before,
        _ => start.elapsed(),
    };
    took > HANG
}

/// What this thread has used, where the system tells it.
fn time_on_processor() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds = text.split_whitespace().next()?.parse().ok()?;
    Some(Duration::from_nanos(nanoseconds))
}

/// Peak memory of this process in megabytes, where the system tells it.
pub fn peak_mb() -> Option<usize> {
    let text = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kilobytes: usize = line.split_whitespace().next()?.parse().ok()?;
    Some(kilobytes >> 10)
}

/// Writes a case below the build folder, for a look and for a case in the tests.
pub fn keep(target: &str, what: &str, case: &[u8]) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("mutations");
    std::fs::create_dir_all(&folder).expect("a folder for cases");
    let word: String = what
        .chars()
        .rev()
        .filter(char::is_ascii_alphanumeric)
        .take(24)
        .collect();
    let file = folder.join(format!(
        "{target}-{}",
        word.chars().rev().collect::<String>()
    ));
    std::fs::write(&file, case).expect("a case");
    file
}
