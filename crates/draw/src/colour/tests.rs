//! Both signs of the ramp stay apart for colour-blind eyes.
//!
//! Dichromacy: matrices of Machado, Oliveira & Fernandes 2009, IEEE TVCG 15(6) 1291-1298, severity 1, on linear RGB.
//! Difference: CIEDE2000 (CIE 142-2001), checked on pairs of Sharma, Wu & Dalal 2005, table 1.

use super::*;

const PROTAN: [[f64; 3]; 3] = [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
];
const DEUTAN: [[f64; 3]; 3] = [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.011820, 0.042940, 0.968881],
];
const TRITAN: [[f64; 3]; 3] = [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.303900],
];
const PLAIN: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

fn linear(c: u8) -> f64 {
    let c = f64::from(c) / 255.0;
    if c <= 0.04045 {
        c / 12.92
    } else {
        ((c + 0.055) / 1.055).powf(2.4)
    }
}

fn times(m: &[[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|i| m[i].iter().zip(v).map(|(a, b)| a * b).sum())
}

/// CIE L*a*b* under D65 of a colour as an eye with the given matrix sees it.
fn lab(colour: Rgb, eye: &[[f64; 3]; 3]) -> [f64; 3] {
    let rgb = times(eye, colour.map(linear)).map(|c| c.clamp(0.0, 1.0));
    let xyz = times(
        &[
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ],
        rgb,
    );
    let f = |t: f64| {
        if t > 216.0 / 24389.0 {
            t.cbrt()
        } else {
            (24389.0 / 27.0 * t + 16.0) / 116.0
        }
    };
    let (x, y, z) = (f(xyz[0] / 0.95047), f(xyz[1]), f(xyz[2] / 1.08883));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

fn ciede2000(a: [f64; 3], b: [f64; 3]) -> f64 {
    let chroma = |v: [f64; 3]| v[1].hypot(v[2]);
    let mean7 = ((chroma(a) + chroma(b)) / 2.0).powi(7);
    let g = 0.5 * (1.0 - (mean7 / (mean7 + 25f64.powi(7))).sqrt());
    let turned = |v: [f64; 3]| {
        let a1 = (1.0 + g) * v[1];
        let c = a1.hypot(v[2]);
        let h = if c == 0.0 {
            0.0
        } else {
            v[2].atan2(a1).to_degrees().rem_euclid(360.0)
        };
        (c, h)
    };
    let ((c1, h1), (c2, h2)) = (turned(a), turned(b));
    let dl = b[0] - a[0];
    let dc = c2 - c1;
    let mut dh = h2 - h1;
    if c1 * c2 == 0.0 {
        dh = 0.0;
    } else if dh > 180.0 {
        dh -= 360.0;
    } else if dh < -180.0 {
        dh += 360.0;
    }
    let dbig = 2.0 * (c1 * c2).sqrt() * (dh / 2.0).to_radians().sin();
    let (l, c) = ((a[0] + b[0]) / 2.0, (c1 + c2) / 2.0);
    let h = if c1 * c2 == 0.0 {
        h1 + h2
    } else if (h1 - h2).abs() <= 180.0 {
        (h1 + h2) / 2.0
    } else if h1 + h2 < 360.0 {
        (h1 + h2 + 360.0) / 2.0
    } else {
        (h1 + h2 - 360.0) / 2.0
    };
    let cosd = |d: f64| d.to_radians().cos();
    let t = 1.0 - 0.17 * cosd(h - 30.0) + 0.24 * cosd(2.0 * h) + 0.32 * cosd(3.0 * h + 6.0)
        - 0.20 * cosd(4.0 * h - 63.0);
    let sl = 1.0 + 0.015 * (l - 50.0).powi(2) / (20.0 + (l - 50.0).powi(2)).sqrt();
    let sc = 1.0 + 0.045 * c;
    let sh = 1.0 + 0.015 * c * t;
    let c7 = c.powi(7);
    let rt = -2.0
        * (c7 / (c7 + 25f64.powi(7))).sqrt()
        * (60.0 * (-((h - 275.0) / 25.0).powi(2)).exp()).to_radians().sin();
    let (x, y, z) = (dl / sl, dc / sc, dbig / sh);
    (x * x + y * y + z * z + rt * y * z).sqrt()
}

// Sharma, Wu & Dalal 2005, Color Res. Appl. 30(1) 21-30, table 1, pairs 1, 7 and 17 (from memory).
#[test]
fn the_difference_formula_gives_the_published_values() {
    for (a, b, expected) in [
        ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425),
        ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669),
        ([50.0, 2.5, 0.0], [73.0, 25.0, -18.0], 27.1492),
    ] {
        assert!((ciede2000(a, b) - expected).abs() < 1e-4, "{}", ciede2000(a, b));
    }
}

#[test]
fn both_signs_stay_apart_for_every_eye() {
    for (eye, name) in [
        (&PLAIN, "plain"),
        (&PROTAN, "protan"),
        (&DEUTAN, "deutan"),
        (&TRITAN, "tritan"),
    ] {
        for k in 4..=20 {
            let t = f64::from(k) / 20.0;
            let apart = ciede2000(lab(beyond(t), eye), lab(beyond(-t), eye));
            assert!(apart >= 15.0, "{name} at {t}: {apart}");
        }
        for sign in [1.0, -1.0] {
            let apart = ciede2000(lab(beyond(0.001 * sign), eye), lab(WITHIN, eye));
            assert!(apart >= 8.0, "{name}: the limit must show, {apart}");
        }
    }
}

/// The control that must fail: ColorBrewer's RdYlGn (Harrower & Brewer 2003), whose two sides meet under deuteranopia
/// (0.43 at the worst place by an independent code).
#[test]
fn a_red_green_ramp_is_told_to_be_unfit() {
    const RED_YELLOW_GREEN: [Rgb; 11] = [
        [165, 0, 38],
        [215, 48, 39],
        [244, 109, 67],
        [253, 174, 97],
        [254, 224, 139],
        [255, 255, 191],
        [217, 239, 139],
        [166, 217, 106],
        [102, 189, 99],
        [26, 152, 80],
        [0, 104, 55],
    ];
    let at = |t: f64| {
        let place = (t + 1.0) * 5.0;
        let below = (place.floor() as usize).min(9);
        mix(
            RED_YELLOW_GREEN[below],
            RED_YELLOW_GREEN[below + 1],
            place - below as f64,
        )
    };
    let worst = |eye: &[[f64; 3]; 3]| {
        (20..=100)
            .map(|k| f64::from(k) / 100.0)
            .map(|t| ciede2000(lab(at(t), eye), lab(at(-t), eye)))
            .fold(f64::INFINITY, f64::min)
    };
    assert!(worst(&DEUTAN) < 1.0, "{}", worst(&DEUTAN));
    assert!(worst(&PLAIN) > 10.0, "{}", worst(&PLAIN));
}
