//! Claims about the demo.

use practicum::couch::fold::Run;
use practicum::moment::parse_moment;
use practicum::service::Origin;

use super::group::invent;

#[test]
fn the_demo_group_is_whole_and_its_taps_are_sound() {
    let book = practicum::course_book::text::read(&practicum::course_book::example::files()).unwrap();
    let group = invent(&book, parse_moment("2026-11-25T12:00:00+00:00").unwrap());
    assert!(group.services.len() >= 8 * 11, "{} services", group.services.len());
    for service in &group.services {
        let Origin::Live { opening, taps } = &service.origin else { panic!("not live") };
        let run = Run::fold(&book, opening, taps);
        assert_eq!(run.ignored(), &[], "{}", service.id);
        assert_eq!(run.times(), service.times, "{}", service.id);
    }
    assert!(group.services.iter().any(|service| service.incident.is_some()));
    assert!(!group.decisions.is_empty());
}
