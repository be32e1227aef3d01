//! The answers at the end of a run: each is kept on the disk with the run as it is given, and shown again.

use std::collections::BTreeMap;

use leptos::prelude::*;
use logbook::answers::Answers;

use super::context::Couch;
use crate::pages::rubric::Marks;

/// What the trainee fills in at the end of a run.
#[derive(Clone, Copy)]
pub(super) struct Form {
    couch: Couch,
    /// Marks.
    pub(super) marks: Marks,
    /// Faults seen.
    pub(super) faults: RwSignal<Vec<practicum::outcome::FaultSeen>>,
    /// Comfort.
    pub(super) comfort: RwSignal<String>,
    /// Aftercare given or not.
    pub(super) aftercare: RwSignal<Option<bool>>,
    /// Note.
    pub(super) note: RwSignal<String>,
    /// Swelling or trouble breathing.
    pub(super) swelling: RwSignal<Option<bool>>,
    /// Rinsed for how long.
    pub(super) rinsed: RwSignal<String>,
    /// What keeps the record from being saved.
    pub(super) problem: RwSignal<Option<String>>,
    /// The record is being saved.
    pub(super) saving: RwSignal<bool>,
    /// What stands on the disk, as far as this tab knows.
    kept: RwSignal<Answers>,
    /// Why the answers are not on the disk.
    not_kept: RwSignal<Option<String>>,
    keeping: StoredValue<bool>,
}

impl Form {
    /// Shows the answers that stand on the disk, and keeps every further one there.
    pub(super) fn over(couch: Couch, kept: Answers) -> Self {
        let form = Self {
            couch,
            marks: RwSignal::new(BTreeMap::new()),
            faults: RwSignal::new(Vec::new()),
            comfort: RwSignal::new(String::new()),
            aftercare: RwSignal::new(None),
            note: RwSignal::new(String::new()),
            swelling: RwSignal::new(None),
            rinsed: RwSignal::new(String::new()),
            problem: RwSignal::new(None),
            saving: RwSignal::new(false),
            kept: RwSignal::new(kept.clone()),
            not_kept: RwSignal::new(None),
            keeping: StoredValue::new(false),
        };
        form.show(&kept);
        Effect::new(move |_| {
            let changed = form.kept.with_untracked(|kept| form.answers() != *kept);
            if changed && !form.saving.get_untracked() && !form.keeping.get_value() {
                form.keeping.set_value(true);
                leptos::task::spawn_local(async move {
                    form.keep_all().await;
                    let _ = form.keeping.try_set_value(false);
                });
            }
        });
        form
    }

    /// Returns the answers as they are on the screen, following their changes.
    fn answers(&self) -> Answers {
        Answers {
            marks: self.marks.get(),
            faults: self.faults.get(),
            comfort: self.comfort.get(),
            aftercare: self.aftercare.get(),
            note: self.note.get(),
            swelling: self.swelling.get(),
            rinsed: self.rinsed.get(),
        }
    }

    fn show(&self, answers: &Answers) {
        show(self.marks, &answers.marks);
        show(self.faults, &answers.faults);
        show(self.comfort, &answers.comfort);
        show(self.aftercare, &answers.aftercare);
        show(self.note, &answers.note);
        show(self.swelling, &answers.swelling);
        show(self.rinsed, &answers.rinsed);
    }

    /// Keeps what is on the screen until nothing on it is newer than what is kept.
    async fn keep_all(&self) {
        while self.kept.try_get_untracked().is_some_and(|kept| kept != untrack(|| self.answers())) {
            let kept = self.keep().await;
            // The page may be gone, or the record saved and the run with it.
            if self.saving.try_get_untracked() != Some(false) {
                return;
            }
            if let Err(sentence) = kept {
                self.not_kept.set(Some(sentence));
                return;
            }
            self.not_kept.set(None);
        }
    }

    /// Keeps what is on the screen now, shows what another tab answered meanwhile, and says whether it did.
    pub(super) async fn keep(&self) -> Result<bool, String> {
        let (base, mine) = (self.kept.get_untracked(), untrack(|| self.answers()));
        let run = self.couch.opening().id;
        let kept = self.couch.session().keep_answers(run.as_str(), &base, &mine).await?;
        if self.kept.try_set(kept.clone()).is_some() {
            return Ok(false);
        }
        // What was given while the disk was busy stays on the screen and is kept next.
        let now = untrack(|| self.answers());
        self.show(&Answers::joined(&mine, &now, &kept));
        Ok(kept != mine)
    }
}

/// Shows an answer where it is another than the one shown.
fn show<T: Clone + PartialEq + Send + Sync + 'static>(shown: RwSignal<T>, answer: &T) {
    if shown.with_untracked(|shown| shown != answer) {
        shown.set(answer.clone());
    }
}

/// Says whether what was answered is on the disk.
#[component]
pub(super) fn Kept(
    /// The form.
    form: Form,
) -> impl IntoView {
    let all = Memo::new(move |_| form.kept.with(|kept| *kept == form.answers()));
    let line = move || {
        if all.get() { "✓ Every answer so far is kept on this device." } else { "Keeping the last answer…" }
    };
    let not = move || form.not_kept.get().filter(|_| !all.get());
    view! {
        <div role="alert">
            {move || not().map(|why| view! {
                <p class="field-error">{format!("The last answer is on this screen only, not on the disk. {why}.")}</p>
            })}
        </div>
        {move || not().is_none().then(|| view! { <p class="small kept">{line}</p> })}
    }
}
