//! Published reference values of the classic 24-patch chart: six patches a row, four rows, the neutral ones last.

use crate::colour;

/// Patches in a row, rows, and patches in all.
pub const COLUMNS: usize = 6;
/// Rows of patches.
pub const ROWS: usize = 4;
/// Patches of the chart.
pub const PATCHES: usize = COLUMNS * ROWS;

/// Which published values a chart is held against. A chart printed to the other ones is wrong by 0.8 CIEDE2000 on average.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChartSet {
    /// Average of 30 charts measured about 2005.
    Average2005,
    /// The manufacturer's values for charts made since November 2014.
    Since2014,
}

impl ChartSet {
    /// Both, the older first.
    pub const ALL: [Self; 2] = [Self::Average2005, Self::Since2014];

    /// CIELAB under D50 (2 degree observer) of the patches, row by row.
    ///
    /// # Source
    /// [Chart24].
    pub fn lab_d50(self) -> &'static [[f64; 3]; PATCHES] {
        match self {
            Self::Average2005 => &AVERAGE_2005,
            Self::Since2014 => &SINCE_2014,
        }
    }

    /// Linear light (sRGB primaries, D65, perfect white 1) of the patches, row by row; a red of the cyan patch lies below 0.
    ///
    /// # Source
    /// [Chart24], Bradford adaptation from D50 [Lam1985].
    pub fn linear(self) -> [[f64; 3]; PATCHES] {
        self.lab_d50().map(colour::linear_from_lab_d50)
    }

    /// The word used in files and in the record.
    pub fn word(self) -> &'static str {
        match self {
            Self::Average2005 => "average-2005",
            Self::Since2014 => "since-2014",
        }
    }

    /// The set of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|set| set.word() == word)
    }
}

/// Names of the patches, row by row.
pub const PATCH_NAMES: [&str; PATCHES] = [
    "dark skin",
    "light skin",
    "blue sky",
    "foliage",
    "blue flower",
    "bluish green",
    "orange",
    "purplish blue",
    "moderate red",
    "purple",
    "yellow green",
    "orange yellow",
    "blue",
    "green",
    "red",
    "yellow",
    "magenta",
    "cyan",
    "white",
    "neutral 8",
    "neutral 6.5",
    "neutral 5",
    "neutral 3.5",
    "black",
];

const AVERAGE_2005: [[f64; 3]; PATCHES] = [
    [38.4459, 13.6023, 14.5264],
    [65.9428, 17.8831, 17.8636],
    [50.0613, -4.5099, -22.2780],
    [43.2859, -13.2323, 21.9328],
    [55.3187, 8.8308, -24.6172],
    [70.6913, -33.0320, -0.1334],
    [62.6509, 35.3538, 57.8379],
    [40.2462, 9.7587, -44.3842],
    [51.5989, 47.7976, 16.8766],
    [30.4965, 21.0619, -20.0411],
    [72.4618, -23.2858, 56.9921],
    [71.9469, 19.4781, 68.1301],
    [28.8763, 14.7968, -50.1527],
    [55.1444, -37.8106, 31.6301],
    [42.2771, 54.1036, 28.6704],
    [82.2765, 4.0283, 80.0067],
    [51.9163, 49.8012, -13.8458],
    [50.7223, -28.1030, -27.9616],
    [96.5293, -0.4681, 2.3788],
    [81.2091, -0.6561, 0.2516],
    [66.4817, -0.5307, -0.0418],
    [50.8273, -0.6260, -0.1611],
    [35.8492, -0.5410, -0.5138],
    [20.8277, 0.0250, -0.3951],
];

const SINCE_2014: [[f64; 3]; PATCHES] = [
    [37.54, 14.37, 14.92],
    [64.66, 19.27, 17.50],
    [49.32, -3.82, -22.54],
    [43.46, -12.74, 22.72],
    [54.94, 9.61, -24.79],
    [70.48, -32.26, -0.37],
    [62.73, 35.83, 56.50],
    [39.43, 10.75, -45.17],
    [50.57, 48.64, 16.67],
    [30.10, 22.54, -20.87],
    [71.77, -24.13, 58.19],
    [71.51, 18.24, 67.37],
    [28.37, 15.42, -49.80],
    [54.38, -39.72, 32.27],
    [42.43, 51.05, 28.62],
    [81.80, 2.67, 80.41],
    [50.63, 51.28, -14.12],
    [49.57, -29.71, -28.32],
    [95.19, -1.03, 2.93],
    [81.29, -0.57, 0.44],
    [66.89, -0.75, -0.06],
    [50.76, -0.13, 0.14],
    [35.63, -0.46, -0.48],
    [20.64, 0.07, -0.46],
];
