//! The pages of a comparison and of a job: all that they show is in them, and their figures are those of the record.

use std::fs;

use crate::job_life::job;
use crate::shop::Shop;

#[test]
fn pages_hold_all_that_they_show() {
    let shop = Shop::new();
    job(&shop, 2);
    let text = fs::read_to_string(shop.path("job/job.toml")).unwrap();
    shop.write(
        "job/job.toml",
        text + "[about]\nshop = \"A <shop> & Co\"\nshell = \"17\"\n",
    );
    assert_eq!(shop.run(&["run", "job"]).code, 0);
    let ran = shop.run(&["page", "job"]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    for page in ["job/results/look 0/page.html", "job/pages/page.html"] {
        let html = fs::read_to_string(shop.path(page)).unwrap();
        assert!(
            html.contains("A &#60;shop&#62; &#38; Co") || html.contains("A &lt;shop&gt; &amp; Co"),
            "{page}"
        );
        // Nothing is fetched from anywhere.
        for part in html.split("src=\"").skip(1) {
            assert!(
                part.starts_with("data:"),
                "{page}: {}",
                &part[..part.len().min(60)]
            );
        }
        for part in html.split("href=\"").skip(1) {
            let fine = ["#", "data:", "../results/"]
                .iter()
                .any(|begins| part.starts_with(begins));
            assert!(fine, "{page}: {}", &part[..part.len().min(60)]);
        }
        assert!(!html.contains("@import") && !html.contains("url(http"), "{page}");
        assert!(html.contains("default-src 'none'"), "{page}");
        for word in ["certified", "roadworthy"] {
            assert!(!html.contains(word), "{page}: {word}");
        }
    }
    for (file, begins) in [
        ("page.pdf", &b"%PDF-1"[..]),
        ("tables.xlsx", b"PK\x03\x04"),
        ("view.glb", b"glTF\x02\0\0\0"),
    ] {
        let bytes = fs::read(shop.path("job/results/look 0").join(file)).unwrap();
        assert!(bytes.starts_with(begins), "{file}");
    }
    assert!(
        fs::read(shop.path("job/pages/hand-over.pdf"))
            .unwrap()
            .starts_with(b"%PDF-1")
    );
    // The same again, and a comparison that is not there.
    let before = fs::read(shop.path("job/pages/hand-over.pdf")).unwrap();
    assert_eq!(shop.run(&["page", "job", "--of", "look 1"]).code, 0);
    assert_eq!(shop.run(&["page", "job", "--of", "look 7"]).code, 2);
    assert_eq!(shop.run(&["page", "job"]).code, 0);
    assert_eq!(fs::read(shop.path("job/pages/hand-over.pdf")).unwrap(), before);
}

#[test]
fn a_job_that_was_not_run_has_no_pages() {
    let shop = Shop::new();
    job(&shop, 1);
    let ran = shop.run(&["page", "job"]);
    assert_eq!(ran.code, 2);
    assert!(ran.stderr.contains("run it first"), "{}", ran.stderr);
    assert!(!shop.path("job/pages").exists());
}
