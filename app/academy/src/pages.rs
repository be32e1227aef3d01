//! The pages, one for each place.

pub(crate) mod agreement;
pub(crate) mod attendance;
pub(crate) mod certificates;
pub(crate) mod coach;
pub(crate) mod couch;
pub(crate) mod course_book;
pub(crate) mod erasure;
pub(crate) mod first_response;
pub(crate) mod form;
pub(crate) mod group;
pub(crate) mod hand_over;
pub(crate) mod import;
pub(crate) mod keeping;
pub(crate) mod keys;
pub(crate) mod late_entry;
pub(crate) mod log;
pub(crate) mod mark;
pub(crate) mod marking;
pub(crate) mod people;
pub(crate) mod practice_models;
pub(crate) mod problems;
pub(crate) mod products;
pub(crate) mod progress;
pub(crate) mod replies;
pub(crate) mod review;
pub(crate) mod rubric;
pub(crate) mod service;
pub(crate) mod set_up;
pub(crate) mod settings;
pub(crate) mod sign_many;
pub(crate) mod sign_off;
pub(crate) mod start;
pub(crate) mod trial;
pub(crate) mod two_eyes;
pub(crate) mod verify;
pub(crate) mod who;

use leptos::prelude::*;

use crate::components::Page;
use crate::route::Route;

/// Returns the page of a place.
pub(crate) fn page(route: Route) -> AnyView {
    match route {
        Route::Start => view! { <start::StartPage/> }.into_any(),
        Route::SetUp => view! { <set_up::SetUpPage/> }.into_any(),
        Route::Couch => view! { <couch::CouchPage/> }.into_any(),
        Route::CouchRun => view! { <couch::CouchRunPage/> }.into_any(),
        Route::LateEntry => view! { <late_entry::LateEntryPage/> }.into_any(),
        Route::Log { query } => view! { <log::LogPage query=query/> }.into_any(),
        Route::Service(id) => view! { <service::ServicePage id=id/> }.into_any(),
        Route::Mark(id) => view! { <mark::MarkPage id=id/> }.into_any(),
        Route::Correct(id) => view! { <service::CorrectPage id=id/> }.into_any(),
        Route::Progress(id) => view! { <progress::ProgressPage id=id/> }.into_any(),
        Route::SignOff(person, competency) => {
            view! { <sign_off::SignOffPage person=person competency=competency/> }.into_any()
        }
        Route::Attendance => view! { <attendance::AttendancePage/> }.into_any(),
        Route::Coach(id) => view! { <coach::CoachPage id=id/> }.into_any(),
        Route::Agreement => view! { <agreement::AgreementPage/> }.into_any(),
        Route::SignMany => view! { <sign_many::SignManyPage/> }.into_any(),
        Route::Keeping => view! { <keeping::KeepingPage/> }.into_any(),
        Route::Certificates => view! { <certificates::CertificatesPage/> }.into_any(),
        Route::Reviews => view! { <review::ReviewsPage/> }.into_any(),
        Route::Review(id) => view! { <review::ReviewPage id=id/> }.into_any(),
        Route::Marking => view! { <marking::MarkingPage/> }.into_any(),
        Route::Group => view! { <group::GroupPage/> }.into_any(),
        Route::People => view! { <people::PeoplePage/> }.into_any(),
        Route::PracticeModels => view! { <practice_models::PracticeModelsPage/> }.into_any(),
        Route::PracticeModel(id) => view! { <practice_models::PracticeModelPage id=id/> }.into_any(),
        Route::Products => view! { <products::ProductsPage/> }.into_any(),
        Route::CourseBook => view! { <course_book::CourseBookPage/> }.into_any(),
        Route::Import => view! { <import::ImportPage/> }.into_any(),
        Route::HandOver => view! { <hand_over::HandOverPage/> }.into_any(),
        Route::Keys => view! { <keys::KeysPage/> }.into_any(),
        Route::Settings => view! { <settings::SettingsPage/> }.into_any(),
        Route::FirstResponse => view! { <first_response::FirstResponsePage/> }.into_any(),
        Route::Verify => view! { <verify::VerifyPage/> }.into_any(),
        Route::Problems => view! { <problems::ProblemsPage/> }.into_any(),
        Route::ErasePracticeModel(id) => view! { <erasure::ErasePracticeModelPage id=id/> }.into_any(),
        Route::ErasePerson(id) => view! { <erasure::ErasePersonPage id=id/> }.into_any(),
        Route::NotFound(what) => view! {
            <Page title="Nothing is here">
                <p>{format!("“{what}” is not a place in this app.")}</p>
                <p><a href="#/">"Start"</a></p>
            </Page>
        }
        .into_any(),
    }
}
