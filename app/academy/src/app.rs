//! The frame around every page: who is using the device, where to go, what must always be said.

use leptos::prelude::*;

use crate::browser;
use crate::components::{NavLink, When};
use crate::pages;
use crate::route::Route;
use crate::session::{Session, Storage};

/// Starts the session, then shows the page that the address names.
#[component]
pub(crate) fn App() -> impl IntoView {
    pages::settings::apply_theme();
    let session = Session::new();
    provide_context(session);
    let route = RwSignal::new(Route::parse(&browser::page::hash()));
    browser::page::on_hash_change(move |hash| {
        session.touch();
        route.set(Route::parse(&hash));
        browser::page::scroll_to_top();
    })
    .keep();
    let ready = RwSignal::new(false);
    leptos::task::spawn_local(async move {
        session.open_last().await;
        ready.set(true);
    });
    let watch = browser::timer::every(5_000, move || session.watch_lock());
    StoredValue::new_local(watch);
    view! {
        <When when=move || ready.get() fallback=|| view! { <p class="starting">"Opening the records on this device…"</p> }>
            <Shell route=route/>
        </When>
    }
}

/// Head, page, foot.
#[component]
fn Shell(
    /// The place shown.
    route: RwSignal<Route>,
) -> impl IntoView {
    let session = expect_context::<Session>();
    let running = Memo::new(move |_| route.get() == Route::CouchRun);
    view! {
        <a class="skip-link" href="#main" on:click=move |event| { event.prevent_default(); browser::page::focus("main"); }>
            "Skip to the page"
        </a>
        <header>
            <When when=move || session.demo()>
                <p class="demo-banner">"▲ Demo: everybody and everything here is invented. Nothing of it can become a real record."</p>
            </When>
            <div class="app-head">
                <p class="app-name"><a href="#/">"Upsweep"</a></p>
                <pages::who::WhoMenu/>
            </div>
        </header>
        <When when=move || !running.get()>
            <pages::couch::UnderWay/>
            <Navigation route=route/>
        </When>
        <Said/>
        <main id="main" class="app-main" tabindex="-1">{move || pages::page(route.get())}</main>
        <Foot/>
    }
}

/// What has to be said at the top: storage and the last thing that went wrong.
#[component]
fn Said() -> impl IntoView {
    let session = expect_context::<Session>();
    let storage = move || match session.storage() {
        Storage::Kept => None,
        Storage::NotKept(why) => {
            Some(view! { <p class="notice notice-danger">"■ Nothing will be kept. "{why}</p> }.into_any())
        }
        Storage::Outdated => {
            let reload = move |_| browser::page::reload();
            let words = "■ Reload this page: a newer version of Upsweep is open in another tab. Everything saved so far \
                is kept; nothing more is saved here until then. ";
            Some(
                view! {
                    <p class="notice notice-danger">
                        {words}<button type="button" on:click=reload>"Reload this page"</button>
                    </p>
                }
                .into_any(),
            )
        }
    };
    let not_admitted = move || {
        session.acts_wait().map(|why| {
            view! {
                <p class="notice notice-caution">
                    "▲ "{why}<a href="#/keys">"Keys"</a>
                </p>
            }
        })
    };
    view! {
        <div role="alert">
            {storage}
            {not_admitted}
            {move || session.alert.get().map(|sentence| view! {
                <p class="notice notice-danger">
                    {sentence}" "
                    <button type="button" class="quiet" on:click=move |_| session.alert.set(None)>"Close"</button>
                </p>
            })}
        </div>
    }
}

/// The places of the app.
#[component]
fn Navigation(
    /// The place shown.
    route: RwSignal<Route>,
) -> impl IntoView {
    let first = [
        ("Start", Route::Start),
        ("Couch", Route::Couch),
        ("Log", Route::Log { query: String::new() }),
        ("Group", Route::Group),
    ];
    let more = [
        ("Marking", Route::Marking),
        ("Attendance", Route::Attendance),
        ("Reviews", Route::Reviews),
        ("Certificates", Route::Certificates),
        ("Practice models", Route::PracticeModels),
        ("People", Route::People),
        ("Products", Route::Products),
        ("Course book", Route::CourseBook),
        ("Spreadsheet", Route::Import),
        ("Hand-over", Route::HandOver),
        ("First response", Route::FirstResponse),
        ("Keys", Route::Keys),
        ("Verify", Route::Verify),
        ("Settings", Route::Settings),
    ];
    let link = move |(text, to): (&'static str, Route)| {
        let target = to.clone();
        let current = Signal::derive(move || {
            route.with(|route| std::mem::discriminant(route) == std::mem::discriminant(&target))
        });
        view! { <li><NavLink to=to text=text current=current/></li> }
    };
    let open = RwSignal::new(false);
    Effect::new(move |_| {
        route.track();
        open.set(false);
    });
    view! {
        <nav class="app-nav" aria-label="Places">
            <ul>{first.into_iter().map(link).collect_view()}
                <li>
                    <button type="button" class="nav-more" aria-expanded=move || open.get().to_string()
                        on:click=move |_| open.update(|open| *open = !*open)>"More"</button>
                </li>
            </ul>
            <ul class="nav-rest" class:open=move || open.get()>{more.into_iter().map(link).collect_view()}</ul>
        </nav>
    }
}

/// What is said on every page.
#[component]
fn Foot() -> impl IntoView {
    let session = expect_context::<Session>();
    let cautions = move || session.cautions().into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
    view! {
        <footer class="app-foot">
            <ul class="cautions">{cautions}</ul>
        </footer>
    }
}
