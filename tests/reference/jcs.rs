//! Canonical JSON against the published test data of RFC 8785 (see `data/rfc8785/SOURCE.md`).

use logbook::entry::canonical_json;

macro_rules! cases {
    ($($name:ident),* $(,)?) => {$(
        #[test]
        fn $name() {
            let input = include_str!(concat!("data/rfc8785/", stringify!($name), ".input.json"));
            let output = include_str!(concat!("data/rfc8785/", stringify!($name), ".output.json"));
            assert_eq!(canonical_json(input).as_deref(), Ok(output.trim_end_matches('\n')));
            assert_eq!(canonical_json(output).as_deref(), Ok(output.trim_end_matches('\n')));
        }
    )*};
}

cases!(arrays, french, structures, unicode, values, weird);
