use super::*;
use proptest::prelude::*;

/// Every piece of the stream, fed in reads of the given sizes (the last size repeats).
fn pieces(splitter: &mut LineSplitter, stream: &[u8], sizes: &[usize]) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = stream;
    let mut sizes = sizes.iter().copied();
    let mut size = usize::MAX;
    while !rest.is_empty() {
        size = sizes.next().unwrap_or(size).clamp(1, rest.len());
        let (mut read, later) = rest.split_at(size);
        while let Some(piece) = splitter.next(&mut read) {
            found.push(match piece {
                Piece::Line(line) => format!("line {}", line.escape_ascii()),
                Piece::Overlong => "overlong".to_owned(),
                Piece::Partial => "partial".to_owned(),
            });
        }
        assert!(read.is_empty(), "all of a read is used up");
        rest = later;
    }
    found
}

#[test]
fn the_line_that_was_joined_in_the_middle_is_dropped() {
    let mut splitter = LineSplitter::new();
    assert_eq!(pieces(&mut splitter, b"31}\n{a:1}\r\n\r\r\nb", &[1]), ["partial", "line {a:1}", "line "]);
    assert!(splitter.restart(), "\"b\" was begun");
    assert_eq!(pieces(&mut splitter, b"\nc\nd\n", &[2]), ["line c", "line d"]);
    assert!(!splitter.restart(), "nothing was begun");
}

#[test]
fn a_line_at_the_cap_is_taken_and_one_byte_more_is_dropped_whole() {
    let mut stream = b"\n".to_vec();
    stream.extend(std::iter::repeat_n(b'x', LINE_CAP));
    stream.push(b'\n');
    stream.extend(std::iter::repeat_n(b'y', LINE_CAP + 1));
    stream.extend(b"\nnext\n");
    for sizes in [&[1][..], &[4096], &[100_000]] {
        let found = pieces(&mut LineSplitter::new(), &stream, sizes);
        assert_eq!(found.len(), 3, "reads of {sizes:?}");
        assert_eq!(found[0].len(), "line ".len() + LINE_CAP);
        assert_eq!(found[1..], ["overlong", "line next"]);
    }
}

#[test]
fn ten_megabytes_without_a_newline_leave_the_buffer_at_its_cap() {
    let mut splitter = LineSplitter::new();
    let read = [b'7'; 4096];
    let mut overlong = 0;
    assert_eq!(pieces(&mut splitter, b"\n", &[1]), [""; 0]);
    for _ in 0..10_000_000 / read.len() {
        overlong += pieces(&mut splitter, &read, &[1000]).len();
        assert_eq!(splitter.capacity(), LINE_CAP);
    }
    assert_eq!(overlong, 1, "one line, dropped once");
    assert_eq!(pieces(&mut splitter, b"\nafter\n", &[3]), ["line after"]);
}

#[test]
fn fifty_megabytes_of_random_bytes_pass_in_bounded_memory() {
    let mut splitter = LineSplitter::new();
    let mut random = 0x5eed_u64;
    let mut read = vec![0_u8; 65_536];
    let mut lines = 0_u64;
    for _ in 0..50_000_000 / read.len() {
        for word in read.as_chunks_mut::<8>().0 {
            // xorshift64 (Marsaglia 2003).
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            *word = random.to_le_bytes();
        }
        let mut rest = &read[..];
        while let Some(piece) = splitter.next(&mut rest) {
            if let Piece::Line(line) = piece {
                assert!(line.len() <= LINE_CAP);
                lines += 1;
            }
        }
        assert_eq!(splitter.capacity(), LINE_CAP);
    }
    // One byte in 256 is a newline.
    let expected = 50_000_000 / 256;
    assert!(lines.abs_diff(expected) < expected / 50, "{lines} lines");
}

proptest! {
    #[test]
    fn any_split_into_reads_gives_the_same_pieces(
        stream in prop::collection::vec(prop_oneof![4 => any::<u8>(), 1 => Just(b'\n'), 1 => Just(b'\r')], 0..400),
        sizes in prop::collection::vec(1_usize..40, 1..60),
    ) {
        let whole = pieces(&mut LineSplitter::new(), &stream, &[usize::MAX]);
        prop_assert_eq!(pieces(&mut LineSplitter::new(), &stream, &sizes), whole);
    }

    #[test]
    fn any_split_around_the_cap_gives_the_same_pieces(
        lengths in prop::collection::vec(prop_oneof![Just(LINE_CAP - 1), Just(LINE_CAP), Just(LINE_CAP + 1), 0..9000_usize], 1..5),
        sizes in prop::collection::vec(1_usize..5000, 1..8),
    ) {
        let mut stream = Vec::new();
        for length in lengths {
            stream.extend(std::iter::repeat_n(b'z', length));
            stream.push(b'\n');
        }
        let whole = pieces(&mut LineSplitter::new(), &stream, &[usize::MAX]);
        prop_assert_eq!(pieces(&mut LineSplitter::new(), &stream, &sizes), whole);
    }
}
