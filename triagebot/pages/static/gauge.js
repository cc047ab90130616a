/* Sets the screen's scale with a bank card, and shows the outlines at it. Nothing leaves the page but what is chosen.

   The scale is kept with the screen and the zoom that it was set on, and counts for these alone. A card lies upright
   where the page is too narrow for it to lie lengthwise. */
"use strict";
(() => {
  const KEPT = "gauge-scale";
  const LENGTHWISE = 620; // so many pixels of room, and a card lies lengthwise on most screens
  const gauge = document.getElementById("gauge");
  const [notice, lay, stage, card, side, calibrate, compare] =
    ["notice", "lay", "stage", "card", "side", "calibrate", "compare"].map((id) => document.getElementById(id));
  const told = gauge.dataset;
  const [least, most, wide, high] = ["least", "most", "wide", "high"].map((name) => Number(told[name]));
  let scale = 0; // pixels a mm
  let upright = true;

  const screenNow = () => ({
    ratio: window.devicePixelRatio,
    sides: [window.screen.width, window.screen.height].sort((a, b) => a - b).join("x"),
  });

  const plausible = (value) => Number.isFinite(value) && value >= least && value <= most;

  /* What was set earlier: a scale for this screen, null for none, false for one of another screen or zoom. */
  const remembered = () => {
    try {
      const kept = JSON.parse(window.localStorage.getItem(KEPT));
      if (kept === null || !plausible(kept.scale)) return null;
      const now = screenNow();
      return kept.ratio === now.ratio && kept.sides === now.sides ? kept.scale : false;
    } catch {
      return null;
    }
  };

  const keep = () => {
    try {
      window.localStorage.setItem(KEPT, JSON.stringify({ scale, ...screenNow() }));
    } catch {
      /* without a memory it is set once more next time */
    }
  };

  const across = () => (upright ? high : wide);

  const draw = () => {
    const [w, h] = [scale * wide, scale * high];
    card.setAttribute("viewBox", upright ? `-0.5 -0.5 ${high + 1} ${wide + 1}` : `-0.5 -0.5 ${wide + 1} ${high + 1}`);
    card.setAttribute("width", (upright ? h : w) + scale);
    card.setAttribute("height", (upright ? w : h) + scale);
    card.firstElementChild.setAttribute("transform", upright ? `translate(${high} 0) rotate(90)` : "");
    side.value = String(scale * across());
    side.setAttribute("aria-valuetext", told.value.replace("{px}", (scale * across()).toFixed(1)));
  };

  const room = () => stage.clientWidth - 18;

  const arrange = () => {
    upright = room() < LENGTHWISE;
    lay.textContent = upright ? told.upright : told.lengthwise;
    side.min = String(least * across());
    side.max = String(Math.max(least * across() + 1, Math.min(most * across(), room())));
    scale = Math.min(scale, Number(side.max) / across());
    draw();
  };

  const trueToSize = () => {
    for (const svg of document.querySelectorAll("svg.true")) {
      const px = scale * Number(svg.dataset.mm);
      svg.setAttribute("width", px);
      svg.setAttribute("height", px);
    }
  };

  const show = (section) => {
    calibrate.hidden = section !== calibrate;
    compare.hidden = section !== compare;
    if (section === calibrate) arrange();
    else trueToSize();
  };

  const begin = (why) => {
    notice.textContent = why;
    if (!plausible(scale)) scale = window.matchMedia("(pointer: coarse)").matches ? 6 : 96 / 25.4;
    show(calibrate);
  };

  side.addEventListener("input", () => {
    scale = Number(side.value) / across();
    draw();
  });
  for (const button of document.querySelectorAll(".nudge")) {
    button.addEventListener("click", () => {
      const next = scale * across() + Number(button.dataset.by);
      scale = Math.min(Number(side.max), Math.max(Number(side.min), next)) / across();
      draw();
    });
  }
  document.getElementById("fits").addEventListener("click", () => {
    if (!plausible(scale)) return;
    notice.textContent = "";
    keep();
    show(compare);
    document.getElementById("compare-head").focus();
  });
  document.getElementById("again").addEventListener("click", () => {
    begin("");
    document.getElementById("calibrate-head").focus();
  });

  const zoomed = () => {
    if (window.visualViewport && Math.abs(window.visualViewport.scale - 1) > 0.01) notice.textContent = told.zoomed;
    else if (notice.textContent === told.zoomed) notice.textContent = "";
  };
  if (window.visualViewport) window.visualViewport.addEventListener("resize", zoomed);
  let seen = screenNow();
  window.addEventListener("resize", () => {
    const now = screenNow();
    if (now.ratio !== seen.ratio || now.sides !== seen.sides) {
      seen = now;
      begin(told.moved);
    } else if (!calibrate.hidden) arrange();
  });

  gauge.hidden = false;
  const kept = remembered();
  if (kept) {
    scale = kept;
    show(compare);
  } else begin(kept === false ? told.moved : "");
  zoomed();
})();
