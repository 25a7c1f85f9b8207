//! Philox4x32: a counter-based generator.

/// Rounds of every block that this crate draws: the paper's default, of which 7 already pass its tests (from memory).
pub(super) const ROUNDS: u32 = 10;

/// One block of Philox4x32 after `rounds` rounds.
///
/// # Source
/// Salmon, Moraes, Dror and Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC'11, section 4.3.
// Always inlined, so that the loop of `philox4x32_from` becomes lanes.
#[inline(always)]
pub fn philox4x32(counter: [u32; 4], key: [u32; 2], rounds: u32) -> [u32; 4] {
    // Multipliers and Weyl increments of the paper's table 2.
    const M0: u64 = 0xD251_1F53;
    const M1: u64 = 0xCD9E_8D57;
    const W0: u32 = 0x9E37_79B9;
    const W1: u32 = 0xBB67_AE85;
    let [mut c0, mut c1, mut c2, mut c3] = counter;
    let [mut k0, mut k1] = key;
    for _ in 0..rounds {
        let p0 = M0 * u64::from(c0);
        let p1 = M1 * u64::from(c2);
        (c0, c1, c2, c3) = ((p1 >> 32) as u32 ^ c1 ^ k0, p1 as u32, (p0 >> 32) as u32 ^ c3 ^ k1, p0 as u32);
        k0 = k0.wrapping_add(W0);
        k1 = k1.wrapping_add(W1);
    }
    [c0, c1, c2, c3]
}

/// The blocks of `N` counters whose first words count up from that of the first.
// Never inlined: it is large, and called for eight counters at a time.
#[inline(never)]
pub(super) fn philox4x32_from<const N: usize>([first, rest @ ..]: [u32; 4], key: [u32; 2]) -> [[u32; 4]; N] {
    let mut blocks = [[0; 4]; N];
    for (block, i) in blocks.iter_mut().zip(0..N as u32) {
        *block = philox4x32([first.wrapping_add(i), rest[0], rest[1], rest[2]], key, ROUNDS);
    }
    blocks
}

/// The 53 high bits of a word as a double in [0, 1).
#[inline]
pub fn unit_from_word(word: u64) -> f64 {
    (word >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
}
