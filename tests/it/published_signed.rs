//! Canonical JSON and signatures against the published examples.

use catchcup::proof::canonical::{Canon, read, read_canonical};
use catchcup::proof::key::{HouseKey, PublicKey, bytes_of};

/// RFC 8785 3.2.3: order of properties (names and order from memory of the published example, agreeing with public test data).
#[test]
fn order_of_properties() {
    let given = r#"{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}"#;
    let written = read(given.as_bytes()).expect("it is read").write();
    let places: Vec<usize> = [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small",
        "Euro Sign",
        "Emoji",
        "Hebrew",
    ]
    .iter()
    .map(|value| written.find(value).expect("it is there"))
    .collect();
    assert!(places.is_sorted(), "{written}");
    assert!(written.starts_with("{\"\\r\":"), "{written}");
    assert!(written.contains("\"\u{80}\":\"Control\""), "not escaped");
}

/// RFC 8785 3.2.2, its words and literals; its numbers are no integers and must be refused.
#[test]
fn words_and_literals() {
    let given = "{ \"string\": \"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\", \"literals\": [null, true, false] }";
    let expected =
        "{\"literals\":[null,true,false],\"string\":\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}";
    let found = read(given.as_bytes()).expect("it is read");
    assert_eq!(found.write(), expected);
    assert!(read_canonical(expected.as_bytes()).is_ok());
    assert!(read_canonical(given.as_bytes()).is_err(), "another form");
    for number in [
        "333333333.33333329",
        "1E30",
        "4.50",
        "2e-3",
        "0.000000000000000000000000001",
        "-0",
    ] {
        assert!(read(number.as_bytes()).is_err(), "{number}");
    }
    // RFC 8785 appendix B: the largest integer either side that all programs read exactly; 56.0 is 56.
    assert_eq!(
        read(b"9007199254740991"),
        Ok(Canon::Whole(9_007_199_254_740_991))
    );
    assert_eq!(
        read(b"-9007199254740991"),
        Ok(Canon::Whole(-9_007_199_254_740_991))
    );
    assert!(read(b"9007199254740992").is_err());
}

#[test]
fn what_two_programs_could_read_differently_is_refused() {
    for text in [
        r#"{"a":1,"a":2}"#,
        r#"{"a":{"b":1,"\u0062":2}}"#,
        r#""\ud800""#,
        "{\"a\":1}x",
        "[1,]",
        "\"\u{1}\"",
        "nul",
    ] {
        assert!(read(text.as_bytes()).is_err(), "{text}");
    }
    assert!(read(b"\"\xff\"").is_err());
    assert!(read("[".repeat(100_000).as_bytes()).is_err());
}

/// RFC 8032 7.1, tests 1 to 3 (recomputed with another program).
#[test]
fn signatures() {
    let vectors = [
        (
            "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            &[][..],
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
        ),
        (
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            &[0x72][..],
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        ),
        (
            "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
            "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
            &[0xaf, 0x82][..],
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
        ),
    ];
    for (secret, public, message, signature) in vectors {
        let key = HouseKey::from_secret(&bytes_of(secret).expect("a secret"));
        assert_eq!(key.public().hex(), public);
        let made = key.sign(message);
        assert_eq!(Some(made), bytes_of(signature));
        let public = PublicKey::from_hex(public).expect("a key");
        assert!(public.signed(message, &made));
        assert!(!public.signed(b"other", &made));
        // The same signature with the group's order added to its scalar is refused: RFC 8032 5.1.7 asks for S below it.
        let order: [u8; 32] =
            bytes_of("edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010")
                .expect("the order");
        let mut bent = made;
        let mut carry = 0u16;
        for (byte, add) in bent[32..].iter_mut().zip(order) {
            carry += u16::from(*byte) + u16::from(add);
            *byte = carry as u8;
            carry >>= 8;
        }
        assert!(!public.signed(message, &bent));
    }
}
