/* What a page does besides being read: it shows all columns of a table, enlarges a picture, and starts the view that turns
   when the reader comes to it. Everything that it says can be read without it. */
(() => {
  "use strict";

  const text = (id) => {
    const place = document.getElementById(id);
    return place ? place.textContent : "";
  };

  // On a narrow screen the contents would stand in the way.
  const contents = document.querySelector(".contents details");
  if (contents && window.matchMedia("(max-width: 48rem)").matches) contents.open = false;

  // ---- tables -------------------------------------------------------------------------------------------------------

  for (const button of document.querySelectorAll(".columns")) {
    button.addEventListener("click", () => {
      const all = button.closest(".table").classList.toggle("all");
      button.setAttribute("aria-pressed", String(all));
    });
  }

  // ---- pictures -----------------------------------------------------------------------------------------------------

  let large = null;

  function enlarge(image) {
    if (!large) {
      large = document.createElement("dialog");
      large.className = "large";
      const close = document.createElement("button");
      close.type = "button";
      close.textContent = "Close";
      close.addEventListener("click", () => large.close());
      const bar = document.createElement("div");
      bar.className = "large-bar";
      bar.append(close);
      const picture = document.createElement("img");
      picture.addEventListener("click", () => picture.classList.toggle("fit"));
      const sheet = document.createElement("div");
      sheet.className = "large-picture";
      sheet.tabIndex = 0;
      sheet.setAttribute("role", "region");
      sheet.setAttribute("aria-label", "The picture, which scrolls");
      sheet.append(picture);
      large.append(bar, sheet);
      document.body.append(large);
    }
    const picture = large.querySelector("img");
    picture.src = image.src;
    picture.alt = image.alt;
    // On a narrow screen it would be no larger than on the page.
    picture.className = window.matchMedia("(max-width: 48rem)").matches ? "" : "fit";
    large.setAttribute("aria-label", image.alt);
    large.showModal();
    large.querySelector(".large-picture").scrollTo(0, 0);
    large.querySelector("button").focus();
  }

  for (const button of document.querySelectorAll(".enlarge")) {
    button.addEventListener("click", () => enlarge(button.querySelector("img")));
  }

  // ---- the view that turns ------------------------------------------------------------------------------------------

  const place = document.getElementById("view3d");
  let started = false;

  function start() {
    if (!place || started || typeof witnessmarkView === "undefined") return;
    started = true;
    place.textContent = "";
    try {
      witnessmarkView.start(place, text("view-points").trim(), JSON.parse(text("view-data")));
    } catch (trouble) {
      const words = document.createElement("p");
      words.className = "wm-missing";
      words.textContent = "The view could not be drawn here; the pictures show the same.";
      place.replaceChildren(words);
    }
  }

  // Decoding takes a moment: the page is painted first.
  const soon = () => requestAnimationFrame(() => setTimeout(start, 0));

  if (place) {
    document.getElementById("show-view").addEventListener("click", soon);
    if ("IntersectionObserver" in window) {
      // Whoever jumps past it is not held up on the way.
      let rests = 0;
      const near = new IntersectionObserver((seen) => {
        clearTimeout(rests);
        if (!seen[seen.length - 1].isIntersecting) return;
        rests = setTimeout(() => { near.disconnect(); soon(); }, 250);
      }, { rootMargin: "200px" });
      near.observe(place);
    }
  }

  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest("[data-fly]") : null;
    if (!link || typeof witnessmarkView === "undefined") return;
    start();
    witnessmarkView.ready.then((drawn) => drawn && witnessmarkView.fly(link.dataset.fly));
  });
})();
