//! Regions of a picture: pixels joined over their sides.

/// Visits the region around `start` of a picture of `size` (width, height), pixel by pixel with (x, y, index), in an order
/// that depends on nothing but the region. `joins` tells whether a pixel and its neighbour belong together; `seen` holds
/// what was visited before, `start` included, and is kept up.
pub(super) fn visit_region(
    start: usize,
    size: (usize, usize),
    seen: &mut [bool],
    joins: impl Fn(usize, usize) -> bool,
    mut visit: impl FnMut(usize, usize, usize),
) {
    let (w, h) = size;
    let mut stack = vec![start];
    while let Some(i) = stack.pop() {
        let (x, y) = (i % w, i / w);
        visit(x, y, i);
        let sides = [
            (x > 0).then(|| i - 1),
            (x + 1 < w).then_some(i + 1),
            (y > 0).then(|| i - w),
            (y + 1 < h).then_some(i + w),
        ];
        for k in sides.into_iter().flatten() {
            if !seen[k] && joins(i, k) {
                seen[k] = true;
                stack.push(k);
            }
        }
    }
}
