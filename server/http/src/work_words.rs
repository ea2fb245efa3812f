//! Lines of work in words, by their numbers and codes, for the pages and for the printed sheet. The
//! sheet in English keeps the sentences that the list gives.

use chrono::{Datelike as _, NaiveDate};
use traybook_answers::Decimal;
use traybook_answers::planning::work::{
    FarmWork, SoakPart, SoakReason, WorkLine, WorkState, WorkTask,
};
use traybook_app::planning::{OVER_AGE_CAUTION, SheetTexts, SheetWords, Worded};
use traybook_domain::kinds::{HOLD_CAUTION, MOULD_CAUTION, SORGHUM_CAUTION};
use traybook_domain::time::local_date;
use traybook_speech::{Arg, Language};

/// A sheet in a language.
pub struct Words(pub Language);

impl SheetWords for Words {
    fn texts(&self) -> SheetTexts {
        let say = |key: &str| self.say(key);
        let column = |name: &str| say(&format!("sheet-column-{name}"));
        SheetTexts {
            language: self.0.tag().to_owned(),
            title: say("sheet-title"),
            no_work: say("sheet-no-work"),
            nothing: say("sheet-nothing"),
            columns: ["done", "time", "work", "amount"].map(column),
            done: say("sheet-done"),
            to_do: say("sheet-to-do"),
            late: say("late"),
            made: say("sheet-made"),
            footer: say("sheet-footer"),
            weekdays: [1, 2, 3, 4, 5, 6, 7].map(|day| say(&format!("sheet-day-{day}"))),
        }
    }

    fn line(&self, line: &WorkLine, today: NaiveDate, zone: chrono_tz::Tz) -> Worded {
        if self.0.is_source() {
            return Worded {
                sentence: line.sentence.clone(),
                why: line.why.clone().unwrap_or_default(),
                cautions: line.cautions.clone(),
            };
        }
        let late = today - local_date(line.due_at.0, zone);
        Worded {
            sentence: self.sentence(line),
            why: self.why(line, late.num_days()),
            cautions: self.cautions(line),
        }
    }

    fn warnings(&self, farm: &FarmWork) -> Vec<String> {
        if self.0.is_source() {
            let notes = farm.feeding.iter().map(|f| &f.sentence);
            return farm.warnings.iter().chain(notes).cloned().collect();
        }
        let held = |lot: &String| self.tell("lot-held", &[("lot", lot.as_str().into())]);
        let mut all: Vec<String> = farm.held_lots.iter().map(held).collect();
        // Besides held lots there is one thing to warn of: seed that runs out.
        let runs_out = farm.seed.days_left.filter(|_| farm.warnings.len() > farm.held_lots.len());
        all.extend(runs_out.map(|days| self.tell("lasts-days", &[("days", days.into())])));
        for note in &farm.feeding {
            let (key, kg) = match note.reason {
                Some(_) => ("sheet-short", &note.short_kg),
                None => ("sheet-surplus", &note.surplus_kg),
            };
            let group = note.animal_group.as_str().into();
            all.push(self.tell(key, &[("group", group), ("kg", kg.to_string().into())]));
        }
        all
    }
}

impl Words {
    fn say(&self, key: &str) -> String {
        self.0.say(key, &[])
    }

    fn tell(&self, key: &str, args: &[(&'static str, Arg)]) -> String {
        self.0.say(key, args)
    }

    fn cautions(&self, line: &WorkLine) -> Vec<String> {
        line.cautions.iter().map(|text| caution(self.0, text)).collect()
    }

    fn why(&self, line: &WorkLine, days: i64) -> String {
        let is_mouldy = line.task == WorkTask::Discard && line.warns(MOULD_CAUTION);
        match line.state {
            WorkState::Late if is_mouldy => self.say("sheet-mould"),
            WorkState::Late if days > 0 => self.tell("why-due", &[("days", days.into())]),
            WorkState::Late => self.say("why-passed"),
            WorkState::Open => open_why(self.0, line).unwrap_or_default(),
            WorkState::Done => String::new(),
        }
    }

    fn sentence(&self, line: &WorkLine) -> String {
        let mut parts = vec![task(self.0, line, |day| day.to_string())];
        let mut add = |key: &str, name: &'static str, value: Option<String>| {
            parts.extend(value.map(|value| self.tell(key, &[(name, value.into())])));
        };
        if line.task == WorkTask::Harvest && line.state != WorkState::Done {
            add("task-harvest-kg", "kg", line.kg.map(|kg| about_kg(kg).to_string()));
        }
        if line.task == WorkTask::Soak {
            add("task-soak-lot", "lot", line.seed_lot.clone());
            add("feed-on", "date", line.feed_on.map(|d| d.to_string()));
        }
        add("batch", "code", line.batch.clone());
        add("shed", "code", line.shed.clone());
        parts.join(" · ")
    }
}

/// Fodder that is expected or lacks, to 0.1 kg: no field scale shows more.
pub(crate) fn about_kg(kg: Decimal) -> Decimal {
    kg.rounded(1)
}

/// Why an open line is on another day, or more, than usual.
pub(crate) fn open_why(language: Language, line: &WorkLine) -> Option<String> {
    match &line.soak {
        Some(soak) => soak_why(language, soak),
        None if line.early_days.is_some() => Some(language.say("why-early", &[])),
        None => line.why.is_some().then(|| language.say("why-moved", &[])),
    }
}

/// Why today's soak is more than usual; none where nothing is owed.
pub(crate) fn soak_why(language: Language, soak: &SoakReason) -> Option<String> {
    if soak.parts.is_empty() {
        return None;
    }
    let parts: Vec<String> = soak.parts.iter().map(|p| soak_part(language, p)).collect();
    let more = match soak.trays_more {
        trays if trays > 0 => language.say("soak-trays-more", &[("trays", trays.into())]),
        _ => language.say("soak-seed-more", &[("kg", soak.owed_kg.rounded(2).to_string().into())]),
    };
    let mut sentence = format!("{more}: {}", parts.join("; "));
    if soak.trays_left_out > 0 {
        let left = language.say("soak-left-out", &[("trays", soak.trays_left_out.into())]);
        sentence = format!("{sentence}. {left}");
    }
    Some(sentence)
}

fn soak_part(language: Language, part: &SoakPart) -> String {
    let weekday = |on: NaiveDate| {
        language.say(&format!("sheet-day-{}", on.weekday().number_from_monday()), &[])
    };
    let args: [(&'static str, Arg); 4] = [
        ("trays", part.trays.unwrap_or(0).into()),
        ("day", part.on.map(weekday).unwrap_or_default().into()),
        ("from", part.head_from.unwrap_or(0).into()),
        ("to", part.head_to.unwrap_or(0).into()),
    ];
    language.say(&format!("soak-for-{}", part.cause.text()), &args)
}

/// A caution in a language. One without a translation is said in English rather than left out.
pub(crate) fn caution(language: Language, text: &str) -> String {
    let key = match text {
        MOULD_CAUTION => "caution-mould",
        OVER_AGE_CAUTION => "caution-over-age",
        HOLD_CAUTION => "caution-held",
        SORGHUM_CAUTION => "caution-sorghum",
        _ => return text.to_owned(),
    };
    language.say(key, &[])
}

/// What a line of work asks for, without when, where and which batch; `date` words a day.
pub(crate) fn task(
    language: Language,
    line: &WorkLine,
    date: impl Fn(NaiveDate) -> String,
) -> String {
    let say = |key: &str| language.say(key, &[]);
    let crop = line.crop.as_ref().map_or_else(|| say("seed"), |c| say(&format!("crop-{c}")));
    let group = line.animal_group.clone().unwrap_or_else(|| say("the-animals"));
    let kg = line.kg.as_ref().map(Decimal::to_string).unwrap_or_default();
    let harvested = line.harvested_on.map(date);
    let key = match line.task {
        WorkTask::Feed if line.warns(HOLD_CAUTION) => "sheet-feed-held".to_owned(),
        WorkTask::Feed if line.state == WorkState::Late && harvested.is_some() => {
            "sheet-feed-kept".to_owned()
        }
        WorkTask::Feed => "sheet-feed".to_owned(),
        WorkTask::Discard if harvested.is_some() || line.trays.is_none() => {
            "sheet-throw-away".to_owned()
        }
        WorkTask::Harvest if line.early_days.is_some() => "task-harvest-early".to_owned(),
        task => format!("task-{}", task.text()),
    };
    let args: [(&'static str, Arg); 9] = [
        ("kg", kg.into()),
        ("crop", crop.into()),
        ("group", group.into()),
        ("trays", line.trays.unwrap_or(0).into()),
        ("number", line.watering.unwrap_or(1).into()),
        ("times", line.waterings.unwrap_or(1).into()),
        ("days", line.early_days.unwrap_or(1).into()),
        ("what", fodder(language, line).into()),
        ("date", harvested.unwrap_or_default().into()),
    ];
    language.say(&key, &args)
}

/// How much fresh fodder a line is about: by weight, else by trays.
fn fodder(language: Language, line: &WorkLine) -> String {
    match (&line.kg, line.trays) {
        (Some(kg), _) => language.say("sheet-fodder-kg", &[("kg", kg.to_string().into())]),
        (None, Some(trays)) => language.say("sheet-fodder-trays", &[("trays", trays.into())]),
        (None, None) => language.say("sheet-fodder", &[]),
    }
}
