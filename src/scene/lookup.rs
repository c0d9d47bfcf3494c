//! Looking up the searched area by full-size position.

use super::Scene;

impl Scene {
    /// True when animals may lie at the full-size position (x, y).
    pub fn is_searched(&self, x: f32, y: f32) -> bool {
        let step = self.searched_step as f32;
        let (gx, gy) = (((x + 0.5) / step).floor(), ((y + 0.5) / step).floor());
        let inside = gx >= 0.0
            && gy >= 0.0
            && (gx as usize) < self.searched_width
            && (gy as usize) < self.searched_height;
        inside && self.searched[gy as usize * self.searched_width + gx as usize] > 0
    }
}
