//! Words with a shape: notices, states and what is said where nothing is there.

use leptos::prelude::*;

/// Weight of a notice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoticeKind {
    /// Something must be done now or has failed; read out at once.
    Danger,
    /// Something to heed.
    Caution,
    /// Something to know.
    Info,
    /// Something has succeeded.
    Good,
}

impl NoticeKind {
    fn class(self) -> &'static str {
        match self {
            Self::Danger => "notice notice-danger",
            Self::Caution => "notice notice-caution",
            Self::Info => "notice notice-info",
            Self::Good => "notice notice-good",
        }
    }

    fn role(self) -> Option<&'static str> {
        match self {
            Self::Danger => Some("alert"),
            Self::Good => Some("status"),
            Self::Caution | Self::Info => None,
        }
    }
}

/// Sets a few sentences apart.
#[component]
pub fn Notice(
    /// Weight.
    kind: NoticeKind,
    /// The sentences.
    children: Children,
) -> impl IntoView {
    view! { <div class=kind.class() role=kind.role()>{children()}</div> }
}

/// Meaning of a state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StatusKind {
    /// Met, done, in order.
    Good,
    /// Needs care.
    Caution,
    /// Missing, breached, past due.
    Danger,
    /// Open, not known, not assessed.
    Open,
}

impl StatusKind {
    /// Returns the shape that stands before the word.
    pub fn shape(self) -> &'static str {
        match self {
            Self::Good => "✓",
            Self::Caution => "▲",
            Self::Danger => "■",
            Self::Open => "○",
        }
    }

    fn class(self) -> &'static str {
        match self {
            Self::Good => "status status-good",
            Self::Caution => "status status-caution",
            Self::Danger => "status status-danger",
            Self::Open => "status status-open",
        }
    }
}

/// Says a state by shape and word.
#[component]
pub fn StatusWord(
    /// Meaning.
    kind: StatusKind,
    /// The word.
    #[prop(into)]
    text: String,
) -> impl IntoView {
    view! { <span class=kind.class()><span aria-hidden="true">{kind.shape()}</span><span>{text}</span></span> }
}

/// Says that nothing is here yet, and what to do about it.
#[component]
pub fn EmptyState(
    /// The sentence.
    #[prop(into)]
    text: String,
) -> impl IntoView {
    view! { <p class="empty-state">{text}</p> }
}
