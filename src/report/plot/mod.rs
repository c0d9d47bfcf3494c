//! Pictures of trends as SVG, or as PNG where asked: readable text, light and dark by the viewer's own setting, colours that colour-blind people tell apart,
//! and never colour alone.

pub mod axis;
pub mod breeding;
pub mod mix;
pub mod month;
mod png;
pub mod room;
mod style;
pub mod svg;
pub mod trend;
pub mod wheel;

pub use breeding::{Trade, plan_svg, trade_svg};
pub use mix::mix_svg;
pub use month::month_svg;
pub use room::room_svg;
pub use svg::Svg;
pub use trend::trend_svg;
pub use wheel::wheel_svg;
