//! What pages are made of: headings, figures, tables, charts, lists and forms. One template
//! (`blocks.html`) draws them, so that every page looks and reads alike.

use super::fold::Fold;
pub(super) use super::form::{Field, Form, Input, Refusal};
use super::page::Page;
use super::site::{Shown, show};
use super::visit::Visit;
use actix_web::http::StatusCode;
use askama::Template;
use traybook_answers::estimates::AsOf;
use traybook_answers::wire::Time;

/// A part of a page.
pub(super) enum Block {
    /// Paragraphs behind a heading that is tapped.
    Folded(String, Vec<String>),
    /// A heading, with a name that links can point at.
    Heading(String, String),
    /// The sentence that matters most.
    Lead(String),
    /// A paragraph.
    Text(String),
    /// Something that can hurt somebody, or that must not be missed.
    Caution(String),
    /// What was just done.
    Notice(String),
    /// Names with their values.
    Facts(Vec<(String, String)>),
    Table(Table),
    /// A chart: SVG made by the server.
    Chart(String),
    /// Things one below the other, each with a link, a mark and lines.
    List(Vec<Item>),
    /// Links side by side.
    Links(Vec<Link>),
    Form(Form),
    /// Labels to print and stick on: a QR code each with what it stands for.
    Labels(Vec<Label>),
}

pub(super) struct Label {
    /// The QR code: SVG made by the server; none where there is nothing to lead to.
    pub code: Option<String>,
    /// What it is stuck on.
    pub title: String,
    /// What else stands on it.
    pub line: String,
}

#[derive(Clone)]
pub(super) struct Link {
    pub href: String,
    pub text: String,
}

impl Link {
    /// A telephone number that a tap calls (RFC 3966).
    pub fn telephone(number: &str) -> Self {
        let digits: String = number.chars().filter(|c| c.is_ascii_digit() || *c == '+').collect();
        Self::to(format!("tel:{digits}"), number)
    }

    pub fn to(href: impl Into<String>, text: impl Into<String>) -> Self {
        Self { href: href.into(), text: text.into() }
    }
}

/// One thing of a list.
#[derive(Default)]
pub(super) struct Item {
    pub title: String,
    pub href: Option<String>,
    /// A word that says how it stands.
    pub mark: Option<String>,
    /// Lines below.
    pub lines: Vec<String>,
    /// Cautions below.
    pub cautions: Vec<String>,
    /// More links.
    pub links: Vec<Link>,
}

/// A table. On a narrow screen each row becomes a small list with the columns' names.
pub(super) struct Table {
    /// What it shows.
    pub caption: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Cell>>,
    /// A last row with sums, if there is one.
    pub total: Option<Vec<Cell>>,
}

pub(super) struct Column {
    /// Name, with the unit.
    pub name: String,
    /// Whether it holds numbers.
    pub is_number: bool,
}

impl Column {
    /// A column of text.
    pub fn text(name: impl Into<String>) -> Self {
        Self { name: name.into(), is_number: false }
    }

    /// A column of numbers.
    pub fn number(name: impl Into<String>) -> Self {
        Self { name: name.into(), is_number: true }
    }
}

pub(super) struct Cell {
    pub text: String,
    pub href: Option<String>,
    /// Whether it stands out.
    pub is_bold: bool,
}

impl Cell {
    /// A cell that leads somewhere.
    pub fn link(text: impl Into<String>, href: impl Into<String>) -> Self {
        Self { text: text.into(), href: Some(href.into()), is_bold: false }
    }

    /// The cell in bold.
    pub fn bold(self) -> Self {
        Self { is_bold: true, ..self }
    }
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self { text: text.into(), href: None, is_bold: false }
    }
}

impl Table {
    /// Cells with their columns, as the template needs them.
    pub fn cells<'a>(&'a self, row: &'a [Cell]) -> Vec<(&'a Column, &'a Cell)> {
        self.columns.iter().zip(row).collect()
    }
}

/// A line of the summary of what is wrong: text, and the field to go to.
pub(super) struct Wrong {
    pub text: String,
    /// Element of the field.
    pub href: Option<String>,
}

#[derive(Template)]
#[template(path = "blocks.html")]
struct BlocksPage {
    page: Page,
    heading: String,
    back: Option<Link>,
    wrong: Vec<Wrong>,
    blocks: Vec<Block>,
}

/// A page under construction.
pub(super) struct Leaf {
    /// Its frame.
    pub page: Page,
    heading: String,
    back: Option<Link>,
    blocks: Vec<Block>,
}

impl Leaf {
    /// An empty page with its heading.
    pub fn new(page: Page, heading: impl Into<String>) -> Self {
        Self { page, heading: heading.into(), back: None, blocks: Vec::new() }
    }

    /// With a way back.
    pub fn back(mut self, href: impl Into<String>, text: impl Into<String>) -> Self {
        self.back = Some(Link::to(href, text));
        self
    }

    /// Adds a part.
    pub fn add(&mut self, block: Block) -> &mut Self {
        self.blocks.push(block);
        self
    }

    /// Adds a heading from its text's key.
    pub fn heading(&mut self, key: &str) -> &mut Self {
        let text = self.page.say(key);
        self.add(Block::Heading(text, key.to_owned()))
    }

    /// Adds a paragraph from its text's key.
    pub fn text(&mut self, key: &str) -> &mut Self {
        let text = self.page.say(key);
        self.add(Block::Text(text))
    }

    /// Says of when figures are that were made before they were asked for.
    pub fn figures_of(&mut self, made_at: Option<Time>) -> &mut Self {
        if made_at.is_some() {
            let text = self.page.figures_of(AsOf { revision: None, made_at });
            self.add(Block::Text(text));
        }
        self
    }

    /// Says how many rows of a list stand in its file alone.
    pub fn more_in_file(&mut self, count: usize) -> &mut Self {
        if count > 0 {
            let count = i64::try_from(count).unwrap_or(i64::MAX);
            let text = self.page.with("more-in-file", "count", count);
            self.add(Block::Text(text));
        }
        self
    }

    /// Says that nothing here leads to this server, where it does not know its own address.
    pub fn address_unknown(&mut self, visit: &Visit) -> &mut Self {
        if visit.whole_address("").is_none() {
            let text = self.page.say("address-unknown");
            self.add(Block::Caution(text));
        }
        self
    }

    /// Says what was saved or taken back, where the address says so.
    pub fn saved(&mut self, visit: &Visit) -> &mut Self {
        if let Some(echo) = visit.echo.clone() {
            echo.show(visit, self);
        } else if let Some(what) = visit.field("saved") {
            // Of what is no record one word says what it was.
            let known = self.page.language.known(&format!("saved-{what}"), &[]);
            let text = known.unwrap_or_else(|| self.page.say("saved"));
            self.add(Block::Notice(text));
        }
        self
    }

    /// Adds a form, with what it was refused for if it was this one.
    pub fn form(&mut self, visit: &Visit, refusal: Option<&Refusal>, form: Form) -> &mut Self {
        let form = match refusal.filter(|r| r.form == form.id) {
            Some(refusal) => form.refused(visit, &self.page, refusal),
            None => form,
        };
        self.add(Block::Form(form))
    }

    pub fn show(self) -> Shown {
        self.answer(None)
    }

    /// The page with what a form was refused for.
    pub fn answer(self, refusal: Option<&Refusal>) -> Shown {
        let mut wrong = Vec::new();
        let status = refusal.map_or(200, |r| r.status);
        if let Some(refusal) = refusal {
            let form = self.blocks.iter().find_map(|b| match b {
                Block::Form(form) if form.id == refusal.form => Some(form),
                _ => None,
            });
            for error in &refusal.fields {
                let field = form.and_then(|f| {
                    f.fields.iter().find(|x| x.name == error.field()).map(|x| (f, x))
                });
                let text = match field {
                    Some((_, field)) => format!("{}: {}", field.label, self.page.refusal(error)),
                    None if error.field().is_empty() => self.page.refusal(error),
                    None => {
                        let name = self.page.field_name(error.field());
                        format!("{name}: {}", self.page.refusal(error))
                    }
                };
                let href = field.map(|(form, field)| format!("#{}", form.id_of(field)));
                wrong.push(Wrong { text, href });
            }
            let details = refusal.detail.iter();
            wrong.extend(details.map(|d| Wrong { text: d.clone(), href: None }));
        }
        let Self { page, heading, back, blocks } = self;
        let template = BlocksPage { page, heading, back, wrong, blocks };
        show(&template, StatusCode::from_u16(status).unwrap_or(StatusCode::OK))
    }
}
