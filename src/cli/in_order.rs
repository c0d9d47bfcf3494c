//! Many photos at once, their answers in the order they were named.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::mpsc;

use anyhow::Result;

/// At most so many photos are worked on or wait for their turn: a graded photo of 12 megapixels holds some hundred megabytes.
const MOST_AT_ONCE: usize = 4;

/// Does `work` for 0..count on the pool and hands the answers to `take` in that order. A panic in `work` is passed on to the
/// caller instead of leaving it waiting.
///
/// # Errors
/// The first error of `take`; work not begun by then is left undone.
pub fn in_order<T: Send>(
    count: usize,
    work: impl Fn(usize) -> T + Sync,
    mut take: impl FnMut(usize, T) -> Result<()>,
) -> Result<()> {
    let at_once = (rayon::current_num_threads() + 1).min(MOST_AT_ONCE);
    let (sender, receiver) = mpsc::channel();
    let work = &work;
    rayon::in_place_scope(|scope| {
        let begin = |index: usize| {
            let sender = sender.clone();
            scope.spawn(move |_| {
                let answer = catch_unwind(AssertUnwindSafe(|| work(index)));
                // The receiver is gone only where `take` failed; then nobody waits for the answer.
                let _ = sender.send((index, answer));
            });
        };
        (0..count.min(at_once)).for_each(&begin);
        let mut early = BTreeMap::new();
        for index in 0..count {
            while !early.contains_key(&index) {
                let (done, answer) = receiver
                    .recv()
                    .expect("a sender lives as long as this scope");
                early.insert(done, answer);
            }
            let answer = early.remove(&index).expect("it was waited for");
            take(index, answer.unwrap_or_else(|panic| resume_unwind(panic)))?;
            if index + at_once < count {
                begin(index + at_once);
            }
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_come_in_order() {
        let mut seen = Vec::new();
        let slow_first = |i: usize| {
            if i.is_multiple_of(3) {
                std::thread::sleep(std::time::Duration::from_millis(5));
            }
            i * i
        };
        in_order(20, slow_first, |i, answer| {
            seen.push((i, answer));
            Ok(())
        })
        .expect("nothing fails");
        let expected: Vec<_> = (0..20).map(|i| (i, i * i)).collect();
        assert_eq!(seen, expected);
    }

    #[test]
    fn an_error_stops_what_was_not_begun() {
        let begun = std::sync::atomic::AtomicUsize::new(0);
        let count = |i: usize| {
            begun.fetch_add(1, std::sync::atomic::Ordering::SeqCst);
            i
        };
        let result = in_order(1000, count, |i, _| {
            if i == 1 {
                anyhow::bail!("enough")
            }
            Ok(())
        });
        assert!(result.is_err());
        assert!(begun.into_inner() <= 1 + MOST_AT_ONCE + 1);
    }
}
