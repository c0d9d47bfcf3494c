//! `catchcup trend`: does a tank or a line hold?

use anyhow::Result;
use catchcup::book::{Book, Generation};
use catchcup::report::plot::{mix_svg, trend_svg};
use catchcup::report::trend::{TrendTold, trend_lines};
use catchcup::report::wire::trends as wire;
use catchcup::scoop::PastScoop;
use catchcup::trends::Watched;
use catchcup::trends::over_time::mix_over_time;
use catchcup::trends::series::Axis;
use catchcup::trends::tank_trend::{TankTrend, tank_trend};

use super::{house, ladder_of, no_scoops, question, sale_rung, tank_title, write};
use crate::cli::book::Desk;
use crate::cli::output::Out;
use crate::cli::trend_args::{AxisArg, TrendArgs};

/// What is asked about.
struct Subject {
    title: String,
    tank: Option<String>,
    line: Option<String>,
    scoops: Vec<PastScoop>,
    generations: Vec<Generation>,
}

impl Subject {
    fn read(book: &Book, args: &TrendArgs) -> Result<Self> {
        let all = book.generations()?;
        let of =
            |keep: &dyn Fn(&Generation) -> bool| all.iter().filter(|g| keep(g)).cloned().collect();
        if let Some(code) = &args.line {
            let line = book.line(code)?.code;
            return Ok(Self {
                title: format!("line {line}"),
                tank: None,
                scoops: book.measures_of_line(&line)?,
                generations: of(&|g| g.line == line),
                line: Some(line),
            });
        }
        let tank = book.tank(args.tank.as_deref().unwrap_or_default())?;
        Ok(Self {
            title: tank_title(&tank),
            scoops: book.measures_of_tank(&tank.code)?,
            generations: of(&|g| g.tank == tank.code),
            line: tank.line,
            tank: Some(tank.code),
        })
    }
}

/// Answers, and draws where asked.
///
/// # Errors
/// Where the book or the house's files can't be read, nothing was netted, or a picture can't be written.
pub fn run(args: &TrendArgs, out: &mut Out) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let book = desk.open()?;
    let subject = Subject::read(&book, args)?;
    if subject.scoops.is_empty() {
        return Err(no_scoops(&subject.title).into());
    }
    let sale = sale_rung(args.sale_rung, &desk);
    let ladder = ladder_of(&book, subject.line.as_deref(), &desk)?;
    let generations: Vec<&Generation> = subject.generations.iter().collect();
    let measures = args.measure.map_or(Watched::ALL.to_vec(), |m| vec![m]);
    let mut question = question(
        &house(&book, sale, &desk)?,
        &measures,
        &generations,
        ladder.as_ref(),
    );
    question.axis = args.by.map(|by| match by {
        AxisArg::Generation => Axis::Generation,
        AxisArg::Date => Axis::Date,
    });
    let found = tank_trend(&subject.scoops, &question);
    draw(args, &subject, &found, sale, ladder.map(|l| l.labels))?;
    let told = TrendTold {
        title: &subject.title,
        sale_rung: sale,
        detail: args.detail,
    };
    let object = wire::trend(
        &found,
        subject.tank.as_deref(),
        subject.line.as_deref(),
        sale,
    );
    desk.answer(out, [object], || trend_lines(&found, &told))?;
    Ok(true)
}

fn draw(
    args: &TrendArgs,
    subject: &Subject,
    found: &TankTrend,
    sale: catchcup::ladder::Rung,
    labels: Option<[String; 6]>,
) -> Result<()> {
    if let Some(path) = &args.plot {
        // What changes is drawn before what does not.
        let loud = found
            .measures
            .iter()
            .find(|m| m.judged.verdict.change().is_some());
        if let Some(trend) = loud.or(found.measures.first()) {
            write(path, &trend_svg(found, trend, &subject.title, sale))?;
        }
    }
    if let Some(path) = &args.mix {
        let points = mix_over_time(&subject.scoops, found.axis);
        write(
            path,
            &mix_svg(&points, &subject.title, &labels.unwrap_or_default()),
        )?;
    }
    Ok(())
}
