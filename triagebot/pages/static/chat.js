/* Makes the forms of the chat page answer without loading the page anew, and shows what is said from elsewhere.

   The page works without this. Rules of this file:
   - a message has a key, is kept in the browser until the server has it, and is sent again under the same key until it
     does; messages go one after the other;
   - what was said comes from the server, by number; only one's own words are kept here, each with the number of the
     message that they followed, and thrown away with the conversation;
   - the focus is never lost: where buttons go away under it, it goes to the first of the new ones, or to the text. */
"use strict";

(() => {
  const chat = document.getElementById("chat");
  const [log, answers, notice, thinking, form, text, photo, menu, dock, composer] =
    ["log", "answers", "notice", "thinking", "say", "text", "photo", "menu", "dock", "composer"].map((id) => document.getElementById(id));
  const words = chat.dataset;
  const root = words.say.split("/chat/")[0];  // several shops may share this host: each keeps its own
  const CHAT = `chat${root}`, SECRET = `chat-secret${root}`;
  const LONGEST_PAUSE = 20000, PATIENCE = 60000, MOST_KEPT = 200;
  const LIGHT = 3_000_000, LONGEST_SIDE = 2560;  // bytes and pixels of a photo that goes out as it is
  const SHORT_ECHO = 130;  // pixels: three lines and what stands round them

  // --- what is kept here -------------------------------------------------------------------------------------------

  const framed = "framed" in words;
  const talk = location.hash.match(/^#talk-([A-Za-z0-9_-]{43})$/)?.[1];  // brought along from a frame that keeps nothing
  const shelf = framed || talk ? "sessionStorage" : "localStorage";
  const keeps = (() => {
    try { return window[shelf].length >= 0; } catch { return false; }  // nothing is written: another tab would see it
  })();
  let kept = { tag: words.tag, said: [] };
  let secret = "";  // where a cookie may not do; else the browser has it, and no script
  let start = words.start;

  const stored = (name, key) => { try { return JSON.parse(window[name].getItem(key)); } catch { return null; } };
  const store = (name, key, value) => {
    try { value === null ? window[name].removeItem(key) : window[name].setItem(key, JSON.stringify(value)); } catch { /* full, or refused */ }
  };
  const keep = () => {
    kept.said = kept.said.slice(-MOST_KEPT);
    store(shelf, CHAT, kept.said.length ? kept : null);
  };
  const carry = (with_it) => {
    secret = with_it;
    store("sessionStorage", SECRET, with_it ? { secret: with_it, tag: kept.tag } : null);
  };
  const headers = () => (secret ? { accept: "application/json", "x-chat-secret": secret } : { accept: "application/json" });
  const newKey = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");

  // --- what is shown -----------------------------------------------------------------------------------------------

  const theirs = () => [...log.querySelectorAll("[data-number]")];
  const last = () => Math.max(0, ...theirs().map((each) => Number(each.dataset.number)));
  const begun = () => last() > 0 || kept.said.length > 0;

  function place(element, number) {
    /* After everything up to that number. */
    const next = theirs().find((each) => Number(each.dataset.number) > number);
    log.insertBefore(element, next || null);
  }

  function showMine(entry) {
    if (document.getElementById(`k${entry.key}`)) return;
    const bubble = document.createElement("div");
    bubble.className = "said mine";
    bubble.id = `k${entry.key}`;
    const mine = document.createElement("span");
    mine.className = "hidden";
    mine.textContent = `${words.mine} `;
    bubble.append(mine, entry.said);
    if (entry.lang) bubble.lang = entry.lang;
    place(bubble, entry.after);
  }

  function restore() {
    const first = Number(theirs()[0]?.dataset.number || 0);
    for (const entry of kept.said) if ("whole" in words || entry.after >= first) showMine(entry);
  }

  function element(html) {
    const holder = document.createElement("template");
    holder.innerHTML = html;
    return holder.content.firstElementChild;
  }

  function take(told, again = false) {
    /* Shows what was told, `again` with one's own words, as far as the server keeps them; gives whether anything was
       new. */
    const fresh = told.messages.filter((message) => message.id === 0 || message.id > last());
    if (fresh.length) document.getElementById("intro")?.remove();
    for (const message of fresh) {
      place(element(message.html), message.id || Infinity);
      if (again && message.mine) showMine({ key: `s${message.id}`, said: message.mine, after: message.id - 1 });
    }
    if (fresh.length) {
      const within = pressed || answers.contains(document.activeElement);
      pressed = false;
      answers.innerHTML = fresh[fresh.length - 1].answers;
      if (within) refocus();
      reveal(fresh[0].id);
    }
    return fresh.length > 0;
  }

  function refocus() {
    const choice = answers.querySelector(":not(.aside) > .choice");
    (choice || text).focus({ preventScroll: true });
  }

  function foot() {
    /* Where what stays at the foot of the screen begins. */
    const stays = [dock, composer].find((each) => getComputedStyle(each).position === "sticky");
    return innerHeight - (stays ? stays.offsetHeight : 0);
  }

  function reveal(number) {
    /* Scrolls to the end, but never past the beginning of what is new. Where that does not fit, one's own words give
       way, then a short echo, then the top of the picture: a question and its answers are seen together. */
    const bubble = document.getElementById(`m${number}`);
    if (!bubble) return;
    const top = (element) => element.getBoundingClientRect().top - 8;
    const docked = getComputedStyle(dock).position === "sticky";
    const below = (docked ? log : answers).getBoundingClientRect().bottom - foot();
    const mine = bubble.previousElementSibling?.classList.contains("mine") ? [bubble.previousElementSibling] : [];
    const asked = bubble.querySelector(".question");
    const drawn = bubble.querySelector("figure");
    const before = asked ? top(asked) - top(bubble) - (drawn ? drawn.offsetHeight : 0) : Infinity;
    const tops = [...mine, bubble, ...(before <= SHORT_ECHO ? [drawn || asked, asked] : [])].map(top);
    const most = tops.find((each) => below <= each) ?? tops[tops.length - 1];
    scrollBy(0, Math.max(0, Math.min(below, most)));
  }

  const say = (words_) => { if (notice.textContent !== words_) notice.textContent = words_; };

  // --- sending -----------------------------------------------------------------------------------------------------

  const queue = [];
  const sleepers = new Set();
  let sending = false, pressed = false;

  function pause(milliseconds) {
    return new Promise((done) => {
      const wake = () => { clearTimeout(timer); sleepers.delete(wake); done(); };
      const timer = setTimeout(wake, milliseconds);
      sleepers.add(wake);
    });
  }

  function put(fields, said, more = {}) {
    const entry = { key: newKey(), said, after: last(), fields, ...more };
    if (!entry.file) kept.said.push(entry);  // a file that was not sent yet does not outlive the page
    keep();
    queue.push(entry);
    showMine(entry);
    log.lastElementChild.scrollIntoView({ block: "nearest" });
    send();
  }

  async function send() {
    if (sending) return;
    sending = true;
    let failures = 0;
    while (queue.length) {
      const slow = setTimeout(() => { thinking.hidden = false; }, 250);
      const outcome = await attempt(queue[0]).catch(() => ({ again: 0 }));
      clearTimeout(slow);
      thinking.hidden = true;
      if (!("again" in outcome)) {
        failures = 0;
        queue.shift();
        continue;
      }
      failures += 1;
      document.getElementById(`k${queue[0].key}`)?.classList.add("kept-back");
      say(outcome.why || words.offline);
      await pause(Math.max(outcome.again, Math.min(LONGEST_PAUSE, 500 * 2 ** failures)));
    }
    answers.removeAttribute("aria-busy");
    sending = false;
    listen();
  }

  async function attempt(entry) {
    /* Sends a message once; `again` says after how many milliseconds it may be tried once more. */
    const given = { ...entry.fields, key: entry.key, start, after: String(last()), ...(keeps ? {} : { keep: "1" }) };
    let body = new URLSearchParams(given);
    if (entry.file) {
      body = new FormData();
      for (const name in given) body.append(name, given[name]);
      body.append("photo", entry.file);
    }
    const patience = new AbortController();
    const timer = setTimeout(() => patience.abort(), PATIENCE);
    const answer = await fetch(entry.file ? words.photo : words.say, { method: "POST", headers: headers(), body, signal: patience.signal });
    clearTimeout(timer);
    if (answer.status === 429 || answer.status >= 500) {
      const why = answer.status === 429 ? words.fast : answer.status === 503 ? words.busy : words.fault;
      return { again: 1000 * Number(answer.headers.get("retry-after") || 0), why };
    }
    if (!answer.ok) {
      drop(entry);
      say(await reason(answer, entry));
      return {};
    }
    const told = await answer.json();
    document.getElementById(`k${entry.key}`)?.classList.remove("kept-back");
    if (told.outcome === "forgotten") {
      begin_afresh(told);
      return {};
    }
    if (told.tag !== kept.tag) kept = { tag: told.tag, said: kept.said };
    if (entry.file) kept.said.push(entry);
    delete entry.fields;
    delete entry.file;
    keep();
    take(told);
    say(told.outcome === "waiting" ? words.waiting : "");
    warn();
    return {};
  }

  let warned = false;

  async function warn() {
    /* Says so, once, where a frame may keep neither a cookie nor anything else, and offers the link that keeps it. */
    if (!framed || keeps || warned || !secret) return;
    warned = true;
    const answer = await fetch(messages(0), { headers: { accept: "application/json" } }).catch(() => null);
    if (!answer?.ok || (await answer.json()).known) return;
    const tab = document.getElementById("tab");
    tab.hash = `talk-${secret}`;
    tab.parentElement.hidden = false;
  }

  async function reason(answer, entry) {
    /* Why something was refused, in words. */
    if (answer.status === 415) {
      const told = await answer.json().catch(() => ({}));
      return words[told.outcome] || words.unfit;
    }
    if (answer.status === 413) return entry.file ? words.heavy : words.large;
    return answer.status === 403 ? words.elsewhere : words.refused;
  }

  function drop(entry) {
    kept.said = kept.said.filter((each) => each.key !== entry.key);
    keep();
    document.getElementById(`k${entry.key}`)?.remove();
    if (entry.fields?.text && !text.value) text.value = entry.fields.text;
  }

  function begin_afresh(told) {
    /* All is forgotten, here as well. */
    ear?.abort();
    queue.length = 1;
    kept = { tag: told.tag, said: [] };
    keep();
    start = told.start;
    if (framed || secret) carry(start);
    if (talk) history.replaceState(null, "", location.pathname + location.search);
    if (framed) document.getElementById("keep").hidden = true;
    warned = false;
    log.replaceChildren();
    take(told);
    answers.replaceChildren();
    if (document.activeElement === document.body) text.focus({ preventScroll: true });
    say("");
  }

  document.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (!chat.contains(event.target) || !button) return;
    event.preventDefault();
    if (event.target === photo) return;  // it goes when a file is chosen
    const fields = Object.fromEntries(new FormData(event.target));
    if (button.name) fields[button.name] = button.value;
    delete fields.key;
    delete fields.start;
    if (event.target === form) {
      if (!fields.text.trim()) return;
      text.value = "";
      put(fields, fields.text);
      return;
    }
    if (event.target.classList.contains("stepper")) {
      answers.setAttribute("aria-busy", "true");
      pressed = true;
      put(fields, fields.text);
      return;
    }
    if (answers.contains(event.target)) {
      if (answers.getAttribute("aria-busy") === "true") return;
      answers.setAttribute("aria-busy", "true");
      pressed = true;
    }
    if (menu.contains(event.target)) {
      menu.open = false;
      text.focus({ preventScroll: true });
    }
    const said = (button.querySelector(".label") || button).textContent.trim();
    put(fields, said, { lang: event.target.lang });
  });

  answers.addEventListener("click", (event) => {
    const step = event.target.closest(".step");
    if (!step) return;
    const counted = step.form.elements.text;
    counted.value = Math.min(Number(counted.max), Math.max(0, Number(counted.value) + Number(step.dataset.by))) || "";
  });

  document.addEventListener("click", (event) => { if (!menu.contains(event.target)) menu.open = false; });
  menu.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });

  async function smaller(file) {
    /* A large photo as a smaller one; as it is where the browser cannot read it, for the server to look at. */
    if (file.size < LIGHT) return file;
    try {
      const seen = await createImageBitmap(file);
      const share = Math.min(1, LONGEST_SIDE / Math.max(seen.width, seen.height));
      const canvas = Object.assign(document.createElement("canvas"), { width: seen.width * share, height: seen.height * share });
      const pen = canvas.getContext("2d");
      pen.fillStyle = "#ffffff";
      pen.fillRect(0, 0, canvas.width, canvas.height);
      pen.drawImage(seen, 0, 0, canvas.width, canvas.height);
      seen.close();
      const made = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.9); });
      return made && made.size < file.size ? new File([made], "photo.jpg", { type: "image/jpeg" }) : file;
    } catch {
      return file;
    }
  }

  photo.addEventListener("change", async () => {
    const [file] = photo.elements.photo.files;
    if (!file) return;
    thinking.hidden = false;
    const light = await smaller(file);
    photo.elements.photo.value = "";
    thinking.hidden = true;
    put({}, words.photographed, { file: light });
  });

  // --- listening ---------------------------------------------------------------------------------------------------

  let listening = false, ear = null;

  function messages(wait) {
    const address = new URL(words.messages, location.href);
    address.searchParams.set("after", last());
    address.searchParams.set("wait", wait);
    return address;
  }

  async function listen() {
    /* Waits for what is said from elsewhere, while the page is looked at. */
    if (listening) return;
    listening = true;
    let failures = 0;
    while (begun() && !document.hidden) {
      const from = Date.now();
      try {
        ear = new AbortController();
        const timer = setTimeout(() => ear.abort("late"), PATIENCE);
        const answer = await fetch(messages(25), { headers: headers(), signal: ear.signal });
        clearTimeout(timer);
        if (!answer.ok) throw new Error(answer.status);
        const told = await answer.json();
        if (failures) say("");
        failures = 0;
        const fresh = take(told);
        if (!told.known && last() > 0 && !sending) { lost(); if (!secret) break; }
        if (fresh || Date.now() - from > 1000) continue;
        await pause(2000);
      } catch {
        if (document.hidden) break;
        if (ear.signal.aborted && ear.signal.reason !== "late") continue;
        failures += 1;
        if (failures > 1) say(words.offline);
        await pause(Math.min(LONGEST_PAUSE, 500 * 2 ** failures));
      }
    }
    listening = false;
  }

  function lost() {
    /* The server does not know us: the browser keeps no cookies, or the conversation was deleted from elsewhere. */
    if (!secret && start) { carry(start); return; }
    kept = { tag: "", said: [] };
    keep();
    carry("");
    if (talk) location.replace(location.pathname + location.search);
    else location.reload();
  }

  document.addEventListener("visibilitychange", () => { if (document.hidden) ear?.abort(); else listen(); });
  addEventListener("pagehide", () => ear?.abort());
  addEventListener("pageshow", (event) => { if (event.persisted) listen(); });
  addEventListener("online", () => sleepers.forEach((wake) => wake()));
  addEventListener("storage", (event) => {
    if (event.key !== CHAT || framed) return;
    const theirs_ = stored(shelf, CHAT);
    if (theirs_?.tag === kept.tag) { kept = theirs_; restore(); }
  });

  // --- beginning ---------------------------------------------------------------------------------------------------

  async function comeWith(brought) {
    /* Goes on with a talk that was begun in a frame. */
    secret = brought;
    log.replaceChildren();
    answers.replaceChildren();
    const answer = await fetch(messages(0), { headers: headers() }).catch(() => null);
    const told = answer?.ok ? await answer.json() : null;
    if (!told) { say(words.offline); return; }
    if (!told.known) { lost(); return; }
    kept.tag = told.tag;
    const before = stored(shelf, CHAT);
    if (before?.tag === kept.tag && Array.isArray(before.said)) kept = before;
    take(told, true);
    restore();
    listen();
  }

  async function resume() {
    if (talk) { await comeWith(talk); return; }
    const carried = stored("sessionStorage", SECRET);
    if (carried?.secret && start) {  // no cookie came along
      secret = carried.secret;
      kept.tag = carried.tag;
    } else if (framed && start) {
      carry(start);
    }
    const before = stored(shelf, CHAT);
    if (before?.tag === kept.tag && Array.isArray(before.said)) kept = before;
    else store(shelf, CHAT, null);
    if (secret && kept.said.length) {
      log.setAttribute("aria-live", "off");
      const answer = await fetch(messages(0), { headers: headers() }).catch(() => null);
      const told = answer?.ok ? await answer.json() : null;
      if (told?.known) take(told);
      log.setAttribute("aria-live", "polite");
    }
    restore();
    for (const entry of kept.said) if (entry.fields) queue.push(entry);
    if (last()) reveal(last());
    if (queue.length) send(); else listen();
  }

  chat.classList.add("lively");
  resume();
})();
