//! A picture made small enough for a page: 1400 wide, few colours, one byte a place.

use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder, ImageFormat, RgbImage, imageops};

use super::palette::reduced;
use crate::PageError;
use crate::given::Picture;

/// How wide a picture is on a page; two screen dots for each at half the width.
const WIDTH: u32 = 1400;
/// The drawings' ramps, greys and ink are told apart with these; the eye sees no difference.
const COLOURS: usize = 96;
/// Where the kind of colour stands in a PNG file, and where its first block ends.
const KIND_AT: usize = 25;
const HEAD_ENDS: usize = 33;
/// The kind "numbers into a list of colours".
const INDEXED: u8 = 3;

/// The picture scaled to the width of a page and with fewer colours; as it is where that would not make it smaller.
///
/// # Errors
/// A file that is no PNG.
pub fn for_page(picture: &Picture) -> Result<Picture, PageError> {
    let trouble =
        |e: image::ImageError| PageError(format!("{}: the picture can't be read: {e}", picture.file));
    let image = image::load_from_memory_with_format(&picture.png, ImageFormat::Png)
        .map_err(trouble)?
        .into_rgb8();
    let image = if image.width() > WIDTH {
        let height = f64::from(image.height()) * f64::from(WIDTH) / f64::from(image.width());
        imageops::resize(
            &image,
            WIDTH,
            (height.round() as u32).max(1),
            imageops::FilterType::Triangle,
        )
    } else {
        image
    };
    let small = indexed(&image).map_err(trouble)?;
    Ok(Picture {
        png: if small.len() < picture.png.len() {
            small
        } else {
            picture.png.clone()
        },
        ..picture.clone()
    })
}

/// Width and height of a PNG file, from its head.
pub(super) fn dimensions(png: &[u8]) -> Option<(u32, u32)> {
    let word = |at: usize| Some(u32::from_be_bytes(png.get(at..at + 4)?.try_into().ok()?));
    png.starts_with(b"\x89PNG").then_some(())?;
    Some((word(16)?, word(20)?))
}

/// The picture with a list of colours. The encoder knows greys only, one byte a place: it is given the numbers for greys, and
/// the head is then told that they are numbers (PNG, ISO/IEC 15948, 11.2.2 and 11.2.3).
fn indexed(image: &RgbImage) -> Result<Vec<u8>, image::ImageError> {
    let reduced = reduced(image.as_raw(), COLOURS);
    let mut png = Vec::new();
    // Neighbouring numbers are no nearer in colour than others, so that a filter only makes the file larger.
    PngEncoder::new_with_quality(&mut png, CompressionType::Default, FilterType::NoFilter).write_image(
        &reduced.indices,
        image.width(),
        image.height(),
        ExtendedColorType::L8,
    )?;
    png[KIND_AT] = INDEXED;
    let sum = checksum(&png[12..HEAD_ENDS - 4]);
    png[HEAD_ENDS - 4..HEAD_ENDS].copy_from_slice(&sum);
    let mut list = b"PLTE".to_vec();
    list.extend(reduced.colours.as_flattened());
    let length = (list.len() as u32 - 4).to_be_bytes();
    let sum = checksum(&list);
    let block: Vec<u8> = [length.as_slice(), &list, &sum].concat();
    png.splice(HEAD_ENDS..HEAD_ENDS, block);
    Ok(png)
}

/// The checksum of a block of a PNG file (CRC-32, ISO/IEC 15948, annex D).
fn checksum(bytes: &[u8]) -> [u8; 4] {
    let mut sum = u32::MAX;
    for byte in bytes {
        sum ^= u32::from(*byte);
        for _ in 0..8 {
            sum = if sum & 1 == 1 {
                (sum >> 1) ^ 0xedb8_8320
            } else {
                sum >> 1
            };
        }
    }
    (!sum).to_be_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn the_checksum_is_the_published_one() {
        assert_eq!(u32::from_be_bytes(checksum(b"123456789")), 0xcbf4_3926);
    }

    fn drawn(width: u32, height: u32) -> Picture {
        let paper = RgbImage::from_fn(width, height, |x, y| {
            let mut grain = x.wrapping_mul(0x9e37_79b9) ^ y.wrapping_mul(0x85eb_ca6b);
            grain = (grain ^ (grain >> 15)).wrapping_mul(0x2c1b_3c6d) >> 30;
            let colour: [u8; 3] = match (x / 20 + y / 20) % 3 {
                0 => [242, 241, 236],
                1 => [196, 98, 12],
                _ => [48, 6, 86],
            };
            image::Rgb(colour.map(|part| part + grain as u8))
        });
        let mut png = std::io::Cursor::new(Vec::new());
        paper.write_to(&mut png, ImageFormat::Png).unwrap();
        Picture {
            png: png.into_inner(),
            ..made::picture("a.png", "a")
        }
    }

    #[test]
    fn a_wide_picture_is_scaled_and_stays_what_it_was() {
        let picture = drawn(2800, 400);
        let small = for_page(&picture).unwrap();
        assert_eq!(dimensions(&small.png), Some((1400, 200)));
        assert_eq!((small.file.as_str(), small.caption.as_str()), ("a.png", "a"));
        // Twenty places became ten; their middles are as they were.
        let back = image::load_from_memory(&small.png).unwrap().into_rgb8();
        for (x, colour) in [(5, [242, 241, 236]), (15, [196, 98, 12]), (25, [48u8, 6, 86])] {
            for (part, was) in back.get_pixel(x, 5).0.into_iter().zip(colour) {
                assert!(part.abs_diff(was) <= 8, "{part} for {was}");
            }
        }
        assert_eq!(for_page(&picture).unwrap(), small);
    }

    #[test]
    fn a_small_picture_never_grows_and_what_is_none_is_refused() {
        let picture = made::picture("b.png", "b");
        assert!(for_page(&picture).unwrap().png.len() <= picture.png.len());
        let none = Picture {
            png: vec![1, 2, 3],
            ..picture
        };
        assert!(for_page(&none).unwrap_err().0.starts_with("b.png: "));
        assert_eq!(dimensions(&none.png), None);
    }
}
