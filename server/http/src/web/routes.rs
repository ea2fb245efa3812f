//! Addresses of the pages.

use super::manager::{
    board, close, first, guide, import, invitations, labels, lot, month, output_change, owed,
    pay_run, people, purchases, rations, review, savings, security, server, service, spoilage,
    texts, trials, year,
};
use super::member::{account, ask, batches, how, result};
use super::officer::{batch, batch_events, farm, log, phone, register, round, trainings};
use super::site::{Handler, answer, home};
use super::{
    assets, book, calendar, echo, held, indicators, nothing_bought, output, own, passkeys,
    requests, sign_in, today, totals,
};
use crate::serve::State;
use actix_web::web::{self, Payload, ServiceConfig};
use actix_web::{HttpRequest, Route};
use std::sync::Arc;

/// A page's route.
fn route(route: Route, state: &Arc<State>, handler: Handler) -> Route {
    let of = Arc::clone(state);
    route.to(move |http: HttpRequest, payload: Payload| {
        answer(Arc::clone(&of), http, payload, handler)
    })
}

/// Registers the pages.
pub fn configure(state: &Arc<State>, config: &mut ServiceConfig) {
    macro_rules! page {
        ($path:literal, $($method:ident => $handler:path),+) => {{
            let resource = web::resource($path);
            $(
                let handler: Handler = |visit| Box::pin($handler(visit));
                let resource = resource.route(route(web::$method(), state, handler));
            )+
            config.service(resource);
        }};
    }
    page!("/", get => home);
    page!("/sign-in", get => sign_in::show_form, post => sign_in::sign_in);
    page!("/invitation", get => sign_in::show_invitation, post => sign_in::accept_invitation);
    page!("/sign-out", post => sign_in::sign_out);
    page!("/own", get => own::show_own);
    page!("/own/password", post => own::change_password);
    page!("/own/second", post => own::begin_second);
    page!("/own/second/confirm", post => own::confirm_second);
    page!("/own/second/end", post => own::end_second);
    page!("/own/passkeys", post => passkeys::begin);
    page!("/own/passkeys/add", post => passkeys::add);
    page!("/own/passkeys/{id}", post => passkeys::end);
    page!("/own/sign-ins", post => own::end_sign_ins);
    page!("/own/sign-ins/{id}", post => own::end_sign_in);
    page!("/own/notice", post => own::notice_seen);
    page!("/proof", post => own::prove);
    page!("/language", post => sign_in::choose_language);
    page!("/today", get => today::show_today, post => today::record);
    page!("/output", get => output::show_output, post => output::record);
    page!("/output/{id}/back", get => output::show_back, post => output::take_back);
    page!("/put-back/{kind}/{id}", post => echo::put_back);
    page!("/batches", get => batches::show_batches);
    page!("/batches/{id}", get => batches::show_batch);
    page!("/result", get => result::show_result);
    page!("/account", get => account::show_account);
    page!("/ask", get => ask::show_requests, post => ask::ask);
    page!("/requests/{id}", get => requests::show_request, post => requests::answer);
    page!("/round", get => round::show_round);
    page!("/farms", get => farm::show_farms);
    page!("/farms/new", get => register::show_form, post => register::register);
    page!("/farms/{id}", get => farm::show_farm);
    page!("/farms/{id}/plan", get => farm::show_plan);
    page!("/farms/{id}/sheet", get => farm::show_sheet);
    page!("/farms/{id}/calendar", get => calendar::show_calendar, post => calendar::make);
    page!("/farms/{id}/calendar/{link}", post => calendar::end);
    page!("/farms/{id}/visit", get => log::show_form, post => log::log);
    page!("/farms/{id}/batch", get => batch::show_new, post => batch::start);
    page!("/farms/{id}/animals", get => register::show_animals, post => register::count);
    page!("/farms/{id}/groups", post => register::add_group);
    page!("/farms/{id}/book", get => book::show_book);
    page!("/farms/{id}/book/{kind}", get => book::show_new, post => book::record);
    page!("/farms/{id}/nothing-bought", get => nothing_bought::show_form,
        post => nothing_bought::record);
    page!("/farms/{id}/how", get => how::show_how);
    page!("/farms/{id}/sheds", get => book::show_book);
    page!("/farms/{id}/sheds/{kind}", get => book::show_new, post => book::record);
    page!("/farms/{id}/visits", get => book::show_book);
    page!("/farms/{id}/visits/{kind}", get => book::show_new, post => book::record);
    page!("/first", get => first::show_first);
    page!("/setup", get => book::show_book);
    page!("/setup/{kind}", get => book::show_new, post => book::record);
    page!("/store", get => book::show_book);
    page!("/store/{kind}", get => book::show_new, post => book::record);
    page!("/book/{kind}/{id}", get => book::show_record, post => book::correct_record);
    page!("/book/{kind}/{id}/withdraw", post => book::withdraw);
    page!("/visits/{id}", get => log::show_visit);
    page!("/visits/{id}/photos", post => log::keep_one_photo);
    page!("/photos/{id}", get => log::show_photo);
    page!("/follow-ups/{id}", get => log::show_follow_up, post => log::close_follow_up);
    page!("/batches/{id}/correct", get => batch::show_batch, post => batch::correct_batch);
    page!("/batches/{id}/withdraw", post => batch::withdraw_batch);
    page!("/batches/{id}/events", get => batch_events::show_events, post => batch_events::record);
    page!("/events/{id}", get => batch_events::show_event, post => batch_events::correct_event);
    page!("/events/{id}/withdraw", post => batch_events::withdraw);
    page!("/trainings", get => trainings::show_trainings);
    page!("/trainings/new", get => trainings::show_new, post => trainings::record);
    page!("/trainings/{id}", get => trainings::show_training, post => trainings::mark);
    page!("/trainings/{id}/correct", get => trainings::show_correct,
        post => trainings::correct_training);
    page!("/trainings/{id}/withdraw", post => trainings::withdraw);
    page!("/phone", get => phone::show_phone);
    page!("/phone/token", get => phone::token);
    page!("/phone/pages", get => phone::pages);
    page!("/month", get => month::show_month);
    page!("/year", get => year::show_year);
    page!("/output-change", get => output_change::show_output_change);
    page!("/trials", get => trials::show_trials, post => trials::draw);
    page!("/trials/{id}", get => trials::show_order);
    page!("/trials/on-off/{id}", get => trials::show_on_off);
    page!("/office", get => month::show_office);
    page!("/savings", get => savings::show_savings);
    page!("/savings.csv", get => savings::csv);
    page!("/savings.xlsx", get => savings::workbook);
    page!("/board", get => board::show_board);
    page!("/board.pdf", get => board::pdf);
    page!("/savings.pdf", get => savings::pdf);
    page!("/farms/{id}/report.pdf", get => savings::member_pdf);
    page!("/farms/{id}/labels", get => labels::show_labels);
    page!("/sheds/{id}", get => labels::show_shed);
    page!("/close", get => close::show_close, post => close::close);
    page!("/spoilage", get => spoilage::show_spoilage);
    page!("/spoilage/{id}", get => spoilage::show_evidence);
    page!("/flags/{id}", post => spoilage::note_flag);
    page!("/lots/{id}", get => lot::show_lot);
    page!("/lots/{id}/farms.csv", get => lot::farms_csv);
    page!("/lots/{id}/hold", post => lot::hold);
    page!("/holds/{id}", post => lot::release);
    page!("/seed", get => purchases::show_seed);
    page!("/seed.csv", get => purchases::csv);
    page!("/members/{id}/held", get => held::show_held);
    page!("/members/{id}/held.json", get => held::json);
    page!("/members/{id}/left", post => held::left);
    page!("/members/{id}/erase", post => held::erase);
    page!("/pay-run", get => pay_run::show_pay_run, post => pay_run::keep);
    page!("/pay-run.csv", get => pay_run::csv);
    page!("/owed", get => owed::show_owed);
    page!("/owed.csv", get => owed::csv);
    page!("/feed-value", get => rations::show_values);
    page!("/feed-mix", get => rations::show_mix);
    page!("/break-even", get => rations::show_break_even);
    page!("/suppliers", get => rations::show_suppliers);
    page!("/people", get => people::show_people, post => people::add);
    page!("/people/invitations", get => invitations::show_form, post => invitations::make);
    page!("/people/{id}", get => people::show_person, post => people::correct_person);
    page!("/people/{id}/code", post => people::make_code);
    page!("/people/{id}/lost", post => people::lost_telephone);
    page!("/people/{id}/areas", post => people::change_areas);
    page!("/security", get => security::show_log);
    page!("/server", get => server::show_server);
    page!("/texts", get => texts::show_texts, post => texts::link);
    page!("/texts/end", post => texts::end);
    page!("/guide", get => guide::show_guide, post => guide::set);
    page!("/guide/wet-months", post => guide::set_wet_months);
    page!("/service", get => service::show_levels, post => service::set);
    page!("/review", get => review::show_review);
    page!("/review/accept", get => review::show_accept, post => review::accept);
    page!("/import", get => import::show_import, post => import::preview);
    page!("/import/columns", get => import::show_columns, post => import::choose);
    page!("/import/take", post => import::take);
    page!("/import/running", get => import::show_running);
    page!("/import/refused", get => import::refused);
    page!("/import/templates", get => import::show_templates);
    page!("/import/template", get => import::show_template);
    page!("/totals", get => totals::show_totals);
    page!("/totals.csv", get => totals::csv);
    page!("/indicators.csv", get => indicators::csv);
    page!("/indicators.xlsx", get => indicators::workbook);
    for path in assets::paths() {
        config.service(web::resource(path).route(web::get().to(async move || assets::file(path))));
    }
    config.service(web::resource("/worker.js").route(web::get().to(async || assets::worker())));
}
