//! Members, the people who sign in, and officers' areas.

use super::setup::LANGUAGES;
use crate::field::{FieldError, choice, code, flag, past_date, reference, text, year};
use crate::kind::{Kind, Scope};
use crate::people::authz::ROLES;
use crate::record::record;
use chrono::NaiveDate;
use uuid::Uuid;

/// Sex as the member states it.
pub const SEXES: &[&str] = &["female", "male", "not_stated"];

record! {
    /// A member of the co-operative.
    Member {
        one: "member", path: "members", scope: Scope::Area, date: "joined_on", code: "number";
        /// Membership number.
        number: String = code();
        /// Name.
        name: String = text(120);
        /// Home area.
        area_id: Uuid = reference(Kind::Area);
        /// Sex as the member states it.
        sex: String = choice(SEXES);
        /// Year of birth.
        birth_year: Option<i64> = year();
        /// Telephone.
        phone: Option<String> = text(20);
        /// Language the member reads.
        language: String = choice(LANGUAGES);
        /// Whether the member has agreed that these records are kept and used in totals.
        consent: bool = flag();
        /// Day of that answer.
        consent_on: Option<NaiveDate> = past_date();
        /// Day of joining.
        joined_on: NaiveDate = past_date();
        /// Day of leaving.
        left_on: Option<NaiveDate> = past_date();
    }
    rules(self, _ctx, errors) {
        if self.left_on.is_some_and(|left| left < self.joined_on) {
            errors.push(FieldError::new("left_on", "order", "give a day from joined_on on"));
        }
        if let Some(phone) = &self.phone {
            check_phone(phone, errors);
        }
    }
}

record! {
    /// Somebody who signs in to this co-operative, with one role.
    Person {
        one: "person", path: "people", scope: Scope::Cooperative, code: "code";
        /// Short name, used in files.
        code: String = code();
        /// Name.
        name: String = text(120);
        /// E-mail address; this or a telephone number is needed to sign in.
        email: Option<String> = text(200);
        /// Telephone number with country code (+255…).
        phone: Option<String> = text(20);
        /// Language of the pages.
        language: String = choice(LANGUAGES);
        /// What this person does here.
        role: String = choice(ROLES);
        /// The member this person is, for the role member.
        member_id: Option<Uuid> = reference(Kind::Member);
        /// Whether signing in is allowed.
        active: bool = flag();
    }
    rules(self, _ctx, errors) {
        if (self.role == "member") != self.member_id.is_some() {
            let detail = "give the member's id for the role member, and leave it out otherwise";
            errors.push(FieldError::new("member_id", "combination", detail));
        }
        if self.email.is_none() && self.phone.is_none() {
            let detail = "give an e-mail address or a telephone number to sign in with";
            errors.push(FieldError::new("email", "required", detail));
        }
        if let Some(email) = &self.email {
            let parts = email.split_once('@');
            let good = parts.is_some_and(|(user, host)| {
                !user.is_empty() && host.contains('.') && !host.contains('@')
            });
            if !good || email.contains(char::is_whitespace) {
                let detail = "give an address such as amina@example.org";
                errors.push(FieldError::new("email", "format", detail));
            }
        }
        if let Some(phone) = &self.phone {
            check_phone(phone, errors);
        }
    }
}

record! {
    /// An area that an officer looks after, with everything below it.
    OfficerArea {
        one: "officer_area", path: "officer-areas", scope: Scope::Cooperative;
        /// The officer.
        person_id: Uuid = reference(Kind::Person).fixed();
        /// The area.
        area_id: Uuid = reference(Kind::Area).fixed();
    }
    rules(self, ctx, errors) {
        if ctx.parent::<Person>("person_id").is_some_and(|p| p.role != "officer") {
            let detail = "choose a person whose role is officer";
            errors.push(FieldError::new("person_id", "role", detail));
        }
    }
}

fn check_phone(phone: &str, errors: &mut Vec<FieldError>) {
    let digits = phone.bytes().filter(u8::is_ascii_digit).count();
    let rest = phone.strip_prefix('+').unwrap_or(phone);
    let plain = rest.bytes().all(|b| b.is_ascii_digit() || b == b' ' || b == b'-');
    if !plain || !(6..=15).contains(&digits) {
        let detail = "give 6 to 15 digits, with + and the country code (ITU-T E.164)";
        errors.push(FieldError::new("phone", "format", detail));
    }
}
