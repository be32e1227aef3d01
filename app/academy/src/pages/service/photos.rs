//! Photos of a service: taken or chosen, cropped to the eye, side by side.

use leptos::prelude::*;
use logbook::Recorded;
use logbook::fact::{Aftercare, Erasure, Fact};
use logbook::subject::Subject;
use practicum::after_the_couch::{Photo, PhotoStage};
use practicum::eye::Eye;
use practicum::practice_model::ConsentKind;
use practicum::service::Service;

use crate::browser::photo::{Crop, Picture, open_chosen};
use crate::components::When;
use crate::pages::form::{ChoiceInput, Field, Saving, SavingLine};
use crate::route::Route;
use crate::session::{reading, session};

/// Identifier of the file field.
const INPUT: &str = "photo-file";
/// Identifier of the canvas that shows what would be kept.
const CANVAS: &str = "photo-part";

/// The part of the service's page; nothing for drills.
#[component]
pub(crate) fn PhotosSection(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let person = service.practice_model.clone().filter(|_| service.is_service())?;
    let known = StoredValue::new(service.clone());
    let may = move || {
        session.may_assess() || known.with_value(|service| session.who().is_some_and(|who| who.id == service.trainee))
    };
    let photos = move || {
        let records = session.records();
        let all: Vec<Recorded<Photo>> =
            known.with_value(|service| records.photos_of(&service.id).into_iter().cloned().collect());
        all
    };
    let consented = {
        let person = person.clone();
        Memo::new(move |_| session.consent_holds(&person, ConsentKind::Photos))
    };
    let none = move || photos().is_empty();
    let page = Route::PracticeModel(person.clone()).to_hash();
    Some(view! {
        <h2>"Photos"</h2>
        <When when=move || may() fallback=|| view! { <p class="small">"Photos are for who worked the service, and for an instructor or the owner, unlocked."</p> }>
            <When when=none><p>"○ None is kept."</p></When>
            <div class="photo-grid">
                {move || if consented.get() { PhotoStage::ALL.to_vec() } else { Vec::new() }.into_iter().flat_map(|stage| Eye::BOTH.map(|eye| (stage, eye))).filter_map(|(stage, eye)| {
                    let photo = photos().into_iter().find(|photo| photo.value.stage == stage && photo.value.eye == eye)?;
                    Some(view! { <One photo=photo/> })
                }).collect_view()}
            </div>
            <When when=move || !consented.get() && !none()>
                <p class="notice notice-caution">{move || format!(
                    "▲ The consent to photos does not hold any more: {} photos are not shown, and wait for the owner to erase them.",
                    photos().len()
                )}</p>
                <When when=move || session.is_owner()>{move || photos().into_iter().map(|photo| view! { <Erase photo=photo/> }).collect_view()}</When>
            </When>
            <When when=move || consented.get() fallback={
                let page = page.clone();
                move || view! { <p class="small">"The practice model has not consented to photos, so none is kept. "<a href=page.clone()>"Consents"</a></p> }
            }>
                <KeepForm service=known.get_value()/>
            </When>
        </When>
    })
}

fn words_of(photo: &Photo) -> String {
    format!("{} eye, {}", photo.eye.word(), photo.stage.word())
}

/// One photo, and who may take it away.
#[component]
fn One(
    /// The photo.
    photo: Recorded<Photo>,
) -> impl IntoView {
    let session = session();
    let words = words_of(&photo.value);
    let known = StoredValue::new(photo.clone());
    view! {
        <figure class="photo">
            <img src=format!("data:image/jpeg;base64,{}", photo.value.jpeg) alt=words.clone()
                width=photo.value.width height=photo.value.height/>
            <figcaption>{words}
                <When when=move || session.is_owner() fallback=|| view! { <span class="small">". The owner erases it, unlocked at the top."</span> }>
                    <Erase photo=known.get_value()/>
                </When>
            </figcaption>
        </figure>
    }
}

/// Erases a photo for good.
#[component]
fn Erase(
    /// The photo.
    photo: Recorded<Photo>,
) -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let words = words_of(&photo.value);
    let of = Subject::PracticeModel(photo.value.practice_model.clone());
    let (hash, what) = (photo.hash.clone(), format!("photo: {words}"));
    let erase = move |()| {
        let erasure = Erasure {
            of: of.clone(),
            hashes: vec![hash.clone()],
            what: what.clone(),
            why: "taken away on the service’s page".to_owned(),
        };
        saving.write(session, vec![Fact::Erased(erasure)], "The photo is erased for good.".to_owned(), || {});
    };
    view! {
        <crate::components::HoldButton label=format!("Hold: erases this photo for good ({words})") on_hold=Callback::new(erase)/>
        <SavingLine saving=saving/>
    }
}

/// Takes or chooses a picture, crops it, keeps it.
#[component]
fn KeepForm(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let (eye, stage, saving) = (Field::empty(), Field::empty(), Saving::new());
    let picture = RwSignal::new_local(None::<Picture>);
    let [x, y, part] = [50_u32, 50, 60].map(RwSignal::new);
    let crop = move || {
        let share = |value: RwSignal<u32>| f64::from(value.get()) / 100.0;
        Crop { x: share(x), y: share(y), part: share(part) }
    };
    Effect::new(move |_| {
        let crop = crop();
        picture.with(|picture| {
            if let Some(picture) = picture {
                picture.show(CANVAS, crop);
            }
        });
    });
    let open = move |_| {
        let act = async move {
            let opened = open_chosen(INPUT).await?;
            picture.set(Some(opened));
            Ok("Move the part with the three bars until the eye fills the oval, then keep it.".to_owned())
        };
        saving.run(act, || {});
    };
    let known = StoredValue::new(service);
    let keep = move |_| {
        let side = eye.read(|typed| {
            Eye::BOTH.into_iter().find(|eye| eye.word() == typed).ok_or_else(|| "Choose the eye.".to_owned())
        });
        let when = stage.read(|typed| {
            PhotoStage::ALL
                .into_iter()
                .find(|one| one.word() == typed)
                .ok_or_else(|| "Choose when it was taken.".to_owned())
        });
        let (Some(eye), Some(stage)) = (side, when) else { return };
        let small = picture.with_untracked(|picture| picture.as_ref().and_then(|picture| picture.small(untrack(crop))));
        let Some(small) = small else {
            return saving.say(Err("Open a picture first. Nothing was kept.".to_owned()));
        };
        let photo = known.with_value(|service| {
            service.practice_model.clone().map(|practice_model| Photo {
                practice_model,
                service: service.id.clone(),
                eye,
                stage,
                at: reading().at,
                width: small.width,
                height: small.height,
                jpeg: small.jpeg,
            })
        });
        let Some(photo) = photo else { return };
        saving.write(
            session,
            vec![Fact::Aftercare(Aftercare::PhotoKept(photo))],
            "The photo is kept: pixels only, cropped.".to_owned(),
            move || {
                drop(picture.try_set(None));
            },
        );
    };
    let bar = |label: &'static str, value: RwSignal<u32>, least: u32| {
        view! {
            <label class="field"><span>{label}</span>
                <input type="range" min=least max="100" prop:value=move || value.get()
                    on:input:target=move |event| value.set(event.target().value().parse().unwrap_or(50))/>
            </label>
        }
    };
    let eyes = Eye::BOTH.map(|eye| (eye.word().to_owned(), eye.word().to_owned())).to_vec();
    let stages = PhotoStage::ALL.map(|one| (one.word().to_owned(), one.word().to_owned())).to_vec();
    view! {
        <details class="form-part"><summary>"Add a photo"</summary>
            <p class="small">"Only the eye: no whole face. The picture is drawn anew, so that place, device and time of the camera’s file are gone, and is kept at most 96 kB large."</p>
            <div class="field"><label for=INPUT>"Take or choose a picture"</label>
                <input type="file" id=INPUT accept="image/*" on:change=open/></div>
            <div class="photo-part" hidden=move || picture.with(Option::is_none)>
                <canvas id=CANVAS role="img" aria-label="The part that would be kept"></canvas>
                <svg class="photo-guide" viewBox="0 0 4 3" aria-hidden="true"><ellipse cx="2" cy="1.5" rx="1.7" ry="1.05"></ellipse></svg>
            </div>
            <div hidden=move || picture.with(Option::is_none)>
                {bar("Across", x, 0)}{bar("Down", y, 0)}{bar("How much is kept", part, 10)}
                <ChoiceInput legend="Eye" id="photo-eye" field=eye options=eyes/>
                <ChoiceInput legend="When" id="photo-when" field=stage options=stages/>
                <button type="button" class="button-primary" disabled=move || saving.busy() on:click=keep>"Keep this photo"</button>
            </div>
            <SavingLine saving=saving/>
        </details>
    }
}
