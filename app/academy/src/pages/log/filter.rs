//! What the log is narrowed to, as it stands in the address.

use practicum::moment::Day;
use practicum::section::Plan;
use practicum::service::{Origin, Service};

use crate::components::StatusKind;
use crate::pages::service::marks::{OutcomeKey, outcome_key};
use crate::route::{decode, encode};
use crate::session::Session;

/// What the list is narrowed to; empty texts narrow nothing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Filter {
    /// Identifier of the trainee.
    pub(super) trainee: String,
    /// Word of the plan, or [`NO_PLAN`].
    pub(super) plan: String,
    /// First day.
    pub(super) from: String,
    /// Last day.
    pub(super) to: String,
    /// Key of the outcome.
    pub(super) outcome: String,
    /// `service` or `drill`.
    pub(super) kind: String,
    /// How it was recorded: `live`, `late` or `imported`.
    pub(super) mode: String,
}

/// Value for services whose plan nobody recorded.
pub(super) const NO_PLAN: &str = "none";

/// Outcomes: value in the address, shape and words.
pub(super) const OUTCOMES: [(&str, OutcomeKey, StatusKind, &str); 4] = [
    ("acceptable", OutcomeKey::Acceptable, StatusKind::Good, "acceptable"),
    ("not", OutcomeKey::NotAcceptable, StatusKind::Caution, "not acceptable"),
    ("unassessed", OutcomeKey::NotAssessed, StatusKind::Open, "not assessed"),
    ("stopped", OutcomeKey::Stopped, StatusKind::Danger, "stopped"),
];

/// Returns the short key of how a record came about.
pub(super) fn mode_key(service: &Service) -> &'static str {
    match service.origin {
        Origin::Live { .. } => "live",
        Origin::Late(_) => "late",
        Origin::Imported { .. } => "imported",
    }
}

impl Filter {
    /// Reads the filters of an address, as `name=value` pairs.
    pub(super) fn of(query: &str) -> Self {
        let mut filter = Self::default();
        for (name, value) in query.split('&').filter_map(|pair| pair.split_once('=')) {
            if let (Some(slot), Some(value)) = (filter.slot(name), decode(value))
                && is_choice(name, &value)
            {
                *slot = value;
            }
        }
        filter
    }

    fn slot(&mut self, name: &str) -> Option<&mut String> {
        Some(match name {
            "trainee" => &mut self.trainee,
            "plan" => &mut self.plan,
            "from" => &mut self.from,
            "to" => &mut self.to,
            "outcome" => &mut self.outcome,
            "kind" => &mut self.kind,
            "mode" => &mut self.mode,
            _ => return None,
        })
    }

    /// Writes the address that keeps the filters, without its leading `#`.
    pub(super) fn address(&self) -> String {
        let pairs = [
            ("trainee", &self.trainee),
            ("plan", &self.plan),
            ("from", &self.from),
            ("to", &self.to),
            ("outcome", &self.outcome),
            ("kind", &self.kind),
            ("mode", &self.mode),
        ];
        let said = pairs.iter().filter(|(_, value)| !value.is_empty());
        let said: Vec<String> = said.map(|(name, value)| format!("{name}={}", encode(value))).collect();
        if said.is_empty() { "/log".to_owned() } else { format!("/log?{}", said.join("&")) }
    }

    /// Whether a service or drill is shown.
    pub(super) fn keeps(&self, session: Session, service: &Service) -> bool {
        let day = service.day().format("%Y-%m-%d").to_string();
        let is = |wanted: &str, have: &str| wanted.is_empty() || wanted == have;
        let outcome = OUTCOMES.iter().find(|(value, ..)| *value == self.outcome).map(|(_, key, ..)| *key);
        is(&self.trainee, service.trainee.as_str())
            && is(&self.plan, service.plan().map_or(NO_PLAN, |plan| plan.word()))
            && is(&self.kind, if service.is_service() { "service" } else { "drill" })
            && is(&self.mode, mode_key(service))
            && (self.from.is_empty() || self.from <= day)
            && (self.to.is_empty() || day <= self.to)
            && outcome.is_none_or(|wanted| outcome_key(session, service) == wanted)
    }
}

/// Whether the form could have chosen a value: any other would narrow the list unseen.
fn is_choice(name: &str, value: &str) -> bool {
    match name {
        "plan" => value == NO_PLAN || Plan::ALL.into_iter().any(|plan| plan.word() == value),
        "outcome" => OUTCOMES.iter().any(|(known, ..)| *known == value),
        "kind" => matches!(value, "service" | "drill"),
        "mode" => matches!(value, "live" | "late" | "imported"),
        "from" | "to" => value.parse::<Day>().is_ok(),
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::Filter;

    #[test]
    fn filters_come_back_from_the_address_as_they_were() {
        let filter = Filter {
            trainee: "a&b=c d?#%".to_owned(),
            plan: "whole lash line".to_owned(),
            from: "2026-01-01".to_owned(),
            outcome: "not".to_owned(),
            kind: "drill".to_owned(),
            ..Filter::default()
        };
        let address = filter.address();
        assert_eq!(Filter::of(address.strip_prefix("/log?").unwrap()), filter);
        assert_eq!(Filter::default().address(), "/log");
    }

    #[test]
    fn an_odd_address_narrows_nothing() {
        assert_eq!(Filter::of("x=1&trainee&=&plan=%ff"), Filter::default());
        let odd = "plan=eighths&outcome=all&kind=%3Cb%3E&mode=LIVE&from=2026-13-01&to=tomorrow";
        assert_eq!(Filter::of(odd), Filter::default());
    }
}
