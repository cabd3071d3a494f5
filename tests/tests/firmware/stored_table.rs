//! The stored parameter table: a CRC against its published check value, two copies, every kind of damage.

use firmware::{CopyError, Cycle, Parameters, StoredTable, TableError, crc32};
use host_sim::design;
use host_sim::rig::Rig;
use shared_math::Plain;

fn parameters() -> Parameters {
    let rig = Rig::default_machine().expect("the default rig");
    design::parameters(&rig).expect("parameters")
}

/// The check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms.
#[test]
fn the_crc_is_iso_hdlc() {
    assert_eq!(crc32(b"123456789".iter().copied()), 0xCBF4_3926);
    assert_eq!(crc32([].into_iter()), 0);
}

#[test]
fn what_is_stored_comes_back() {
    let table = StoredTable::new(&parameters());
    let words = table.words().to_vec();
    let read = StoredTable::from_words(&words).expect("a block");
    assert_eq!(read.parameters().expect("sound"), &parameters());
    assert_eq!(read, &StoredTable::stored(parameters(), table.crc()));
    Cycle::<f32>::new(read.parameters().expect("sound")).expect("a cycle");
}

/// A bit of any word of one copy: the other one is used. The same bit of both: refused.
#[test]
fn one_bit_costs_one_copy_and_two_the_table() {
    let table = StoredTable::new(&parameters());
    let half = StoredTable::WORDS / 2;
    for word in 0..StoredTable::WORDS {
        for bit in [word % 32, (7 * word + 13) % 32] {
            let mut words = table.words().to_vec();
            words[word] ^= 1 << bit;
            let struck = StoredTable::from_words(&words).expect("a block");
            assert_eq!(struck.parameters(), Ok(&parameters()), "word {word}");
            words[(word + half) % StoredTable::WORDS] ^= 1 << bit;
            let struck = StoredTable::from_words(&words).expect("a block");
            let Err(TableError::Copies(errors)) = struck.parameters() else {
                panic!("word {word}, bit {bit}: taken");
            };
            let stated = |error: &CopyError| match word % half {
                0 => matches!(error, CopyError::Version { found } if *found == 1 ^ 1 << bit),
                1 => matches!(error, CopyError::Length { .. }),
                _ => matches!(error, CopyError::Check { .. }),
            };
            assert!(errors.iter().all(stated), "word {word}: {errors:?}");
        }
    }
}

/// A table of another firmware is told as such, though its check holds; one of another size too.
#[test]
fn other_tables_are_told() {
    let table = StoredTable::new(&parameters());
    let half = StoredTable::WORDS / 2;
    let with = |place: usize, value: u32| {
        let mut copy = table.words()[..half].to_vec();
        copy[place] = value;
        let before = copy[..half - 1].iter();
        copy[half - 1] = crc32(before.flat_map(|word| word.to_le_bytes()));
        [copy.clone(), copy].concat()
    };
    let words = with(0, 7);
    let error = StoredTable::from_words(&words)
        .and_then(StoredTable::parameters)
        .expect_err("another version");
    let text = error.to_string();
    assert!(
        text.contains("first copy: version 7: expected 1; second"),
        "{text}"
    );
    let words = with(1, 3);
    let error = StoredTable::from_words(&words)
        .and_then(StoredTable::parameters)
        .expect_err("another length");
    assert!(error.to_string().contains("3 words: expected "), "{error}");
    let error = StoredTable::from_words(&table.words()[1..]).expect_err("too short");
    let text = format!("{} words: expected {}", 2 * half - 1, 2 * half);
    assert!(error.to_string().contains(&text), "{error}");
}

/// A check that holds does not make a value usable: its stage refuses it by name.
#[test]
fn a_sound_table_may_still_be_out_of_range() {
    let mut p = parameters();
    p.limit.current_max_a = -1.0;
    let table = StoredTable::new(&p);
    let error = Cycle::<f32>::new(table.parameters().expect("sound")).expect_err("refused");
    assert_eq!(error.field, "limit.current_max_a");
}
