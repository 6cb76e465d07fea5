// Every form and link works without this. With it, a form's answer replaces the page's content in place, so that the
// reader keeps their scroll, their open panels and their focus; and moments are shown in the reader's own time.
"use strict";

document.documentElement.classList.add("script");

const main = () => document.getElementById("main");

function localTimes() {
  for (const time of document.querySelectorAll("time[datetime]")) {
    time.textContent = new Date(time.dateTime).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
  }
}

function say(text) {
  document.getElementById("live").textContent = text;
}

// ---- the drawing: it comes after the words, and what is tapped in it does what its twin in the lists does ----

const drawn = {};

function draw() {
  for (const figure of document.querySelectorAll(".drawing[data-src]")) {
    drawOne(figure);
  }
}

async function drawOne(figure) {
  const narrow = window.innerWidth < 640;
  const address = figure.dataset.src + (narrow ? "&narrow=true" : "");
  const last = drawn[figure.id];
  if (last && last.address === address) {
    figure.replaceChildren(last.svg);
    operate(figure);
    return;
  }
  if (last) {
    // What was drawn last stands there, faint, until the new one has come.
    figure.replaceChildren(last.svg);
    last.svg.classList.add("waiting");
  } else {
    told(figure, "Drawing the wiring …");
  }
  const response = await fetch(address).catch(() => ({ ok: false }));
  if (!response.ok && figure.isConnected) {
    told(figure, "The drawing did not come; load the page again. The same in words stands below.");
  }
  if (!response.ok || !figure.isConnected || !address.startsWith(figure.dataset.src)) {
    return;
  }
  const svg = new DOMParser().parseFromString(await response.text(), "image/svg+xml").documentElement;
  if (!narrow) {
    // The narrow drawing is as large as a thumb needs it, and is moved about in its frame.
    svg.removeAttribute("width");
    svg.removeAttribute("height");
  }
  svg.classList.toggle("narrow", narrow);
  drawn[figure.id] = { address, svg: document.adoptNode(svg) };
  figure.replaceChildren(svg);
  operate(figure);
}

function told(figure, words) {
  const line = document.createElement("p");
  line.className = "quiet";
  line.textContent = words;
  figure.replaceChildren(line);
}

function operate(figure) {
  const svg = figure.firstElementChild;
  const leads = document.getElementById("leads");
  svg.classList.toggle("operable", Boolean(leads || document.querySelector("[data-end]")));
  for (const group of svg.querySelectorAll(".picked, .target, .lead")) {
    group.classList.remove("picked", "target", "lead");
  }
  const [conductor] = figure.dataset.picked.split("@");
  const marked = figure.dataset.marked.split(" ");
  for (const line of svg.querySelectorAll("[data-line]")) {
    line.classList.toggle("picked", line.dataset.line === conductor || marked.includes(line.dataset.line));
  }
  for (const terminal of svg.querySelectorAll("[data-terminal]")) {
    terminal.classList.toggle("target", Boolean(landing(terminal.dataset.terminal)));
    const held = leads && [leads.red.value, leads.black.value].includes(terminal.dataset.terminal);
    terminal.classList.toggle("lead", Boolean(held));
  }
  document.dispatchEvent(new Event("callpath:drawn"));
}

function landing(spot) {
  return [...document.querySelectorAll("button.here")].find((button) => button.value === spot);
}

// The line that was tapped, or beside which a finger came down.
function lineAt(figure, target) {
  const hit = target.closest("[data-hit]");
  return hit ? [...figure.querySelectorAll("[data-line]")].find((line) => line.dataset.line === hit.dataset.hit) : target.closest("[data-line]");
}

// The end of a line that is nearer to where it was tapped, as the lists call it.
function nearerEnd(line, x, y) {
  const names = line.dataset.ends.split(" ");
  const path = line.querySelector("path");
  const at = (length) => path.getPointAtLength(length).matrixTransform(path.getScreenCTM());
  const away = [at(0), at(path.getTotalLength())].map((point) => Math.hypot(point.x - x, point.y - y));
  const side = away[0] <= away[1] ? 0 : 1;
  const chips = [...document.querySelectorAll("[data-end]")].filter((chip) => chip.dataset.end.startsWith(`${line.dataset.line}@`));
  return chips.find((chip) => {
    const row = chip.closest("[data-spot]");
    return row && row.dataset.spot === names[side];
  }) || chips.find((chip) => chip.dataset.end === names[side]) || chips[side];
}

document.addEventListener("click", (event) => {
  const figure = event.target.closest && event.target.closest("#drawing");
  const line = figure && lineAt(figure, event.target);
  const terminal = figure && event.target.closest("[data-terminal]");
  const leads = document.getElementById("leads");
  if (terminal && leads) {
    const both = leads.red.value && leads.black.value;
    if (!leads.red.value || both) {
      leads.red.value = terminal.dataset.terminal;
      leads.black.value = "";
      operate(figure);
      say(`Red lead on ${leads.red.value}`);
    } else {
      leads.black.value = terminal.dataset.terminal;
      leads.requestSubmit();
    }
  } else if (terminal && landing(terminal.dataset.terminal)) {
    landing(terminal.dataset.terminal).click();
  } else if (line && document.querySelector("[data-end]")) {
    const chip = nearerEnd(line, event.clientX, event.clientY);
    if (chip) {
      chip.click();
    }
  }
});

function warn(text, way) {
  const box = document.createElement("div");
  box.className = "alert";
  box.id = "warned";
  box.setAttribute("role", "alert");
  box.textContent = text;
  if (way) {
    const link = document.createElement("a");
    Object.assign(link, { href: way, target: "_blank", textContent: "Log in" });
    box.append(link);
  }
  document.getElementById("warned")?.remove();
  main().prepend(box);
  box.scrollIntoView({ block: "nearest" });
}

// After a new login forms carry a token that holds no more; the page as it would be now has the one that does.
async function tokenNow(body) {
  const page = await fetch(window.location.href, { headers: { accept: "text/html" } });
  const field = new DOMParser().parseFromString(await page.text(), "text/html").querySelector("[name=csrf]");
  return field && field.value !== body.get("csrf") ? field.value : "";
}

async function answer(wanted, address, push) {
  const request = { ...wanted, headers: { accept: "text/html" } };
  document.body.classList.add("busy");
  try {
    const response = await fetch(address, request);
    if (wanted.method === "POST" && response.status === 401) {
      warn("You are not logged in any more, so nothing was saved. What you typed is still here: log in in another tab, then send it again. ", "/login");
      return;
    }
    const token = wanted.method === "POST" && response.status === 403 ? await tokenNow(wanted.body) : "";
    if (token) {
      wanted.body.set("csrf", token);
      await answer(wanted, address, push);
      return;
    }
    if (!(response.headers.get("content-type") || "").startsWith("text/html")) {
      window.location.assign(address);
      return;
    }
    show(new DOMParser().parseFromString(await response.text(), "text/html"), response, push);
  } catch {
    warn("The server did not answer. Whether it was saved is not known: load the page again and look.");
  } finally {
    document.body.classList.remove("busy");
  }
}

// What stands first on the screen and will be there again, so that nothing moves under the reader's eyes.
function seenFirst() {
  const seen = [...main().querySelectorAll("[id]")].find((item) => item.getBoundingClientRect().top >= 0 && item.closest("svg") === null);
  return seen ? { id: seen.id, top: seen.getBoundingClientRect().top } : { id: "", top: 0 };
}

// ---- slow work: how far it is, until its answer is there ----

async function watch() {
  const box = document.querySelector("[data-work]");
  if (!box) {
    return;
  }
  const address = box.dataset.work;
  const response = await fetch(`${address}/state`).catch(() => null);
  if (!box.isConnected) {
    return;
  }
  const state = response && response.ok ? await response.json() : null;
  if (response && (!state || state.state === "ready")) {
    await answer({}, address, true);
    document.getElementById("ready")?.click();
    return;
  }
  if (state) {
    const bar = document.getElementById("work-bar");
    document.getElementById("work-doing").textContent = state.doing.charAt(0).toUpperCase() + state.doing.slice(1);
    document.getElementById("work-seconds").textContent = Math.round(state.seconds);
    if (state.done === null) {
      bar.removeAttribute("value");
    } else {
      bar.value = state.done;
    }
  }
  window.setTimeout(watch, 400);
}

// ---- the focus: it stays where it was, though everything around it is new ----

const CONTROLS = "a, button, input, select, textarea, summary";

// What a control is called that has no id of its own.
function called(item) {
  return [item.tagName, item.name, item.value, item.getAttribute("aria-label") || item.textContent.trim()].join("|");
}

// Takes down what has the focus; what it returns gives the focus back: to the same again, else to what it names as next.
function holdFocus() {
  const was = document.activeElement || document.body;
  const named = [was.id, ...(was.dataset.next || "").split(" ")].filter(Boolean);
  const alike = (item) => called(item) === called(was);
  const place = [...main().querySelectorAll(CONTROLS)].filter(alike).indexOf(was);
  return () => {
    const same = was.id || place < 0 ? [] : [[...main().querySelectorAll(CONTROLS)].filter(alike)[place]];
    for (const item of [...named.map((id) => document.getElementById(id)), ...same, main()]) {
      // What is disabled, or folded away, does not take it.
      item?.focus({ preventScroll: true });
      if (item && document.activeElement === item) {
        return;
      }
    }
  };
}

// What a page answers with, a reading or the next test, is told to whoever does not see it, and brought to the eyes of who does.
function answers() {
  return [...main().querySelectorAll("[data-said]")].map((item) => [item, item.textContent.trim().replace(/\s+/g, " ")]);
}

// What was left for a page that tells how far something is; its answer may be the same page again.
let left = null;

function leave() {
  const open = [...document.querySelectorAll("main details[open][id]")].map((item) => item.id);
  return { path: window.location.pathname, open, heard: answers().map(([, words]) => words), giveFocusBack: holdFocus() };
}

function show(page, response, push) {
  const waited = document.querySelector("[data-work]") && left;
  const { path, open, heard, giveFocusBack } = waited || leave();
  left = page.querySelector("[data-work]") ? waited || leave() : null;
  const elsewhere = new URL(response.url).pathname !== path;
  if (push && response.ok) {
    // The page that tells how far something is gives its place in the history to what it waited for.
    window.history[document.querySelector("[data-work]") ? "replaceState" : "pushState"]({}, "", response.url);
  }
  const held = seenFirst();
  document.title = page.title;
  main().replaceWith(page.getElementById("main"));
  const header = page.querySelector(".top");
  if (header) {
    document.querySelector(".top").replaceWith(header);
  }
  for (const id of open) {
    document.getElementById(id)?.setAttribute("open", "");
  }
  localTimes();
  document.dispatchEvent(new Event("callpath:shown"));
  draw();
  watch();
  const alert = document.getElementById("alert");
  if (alert) {
    alert.focus();
    alert.scrollIntoView({ block: "nearest" });
  } else if (elsewhere) {
    main().focus();
    window.scrollTo(0, 0);
  } else {
    giveFocusBack();
    const still = document.getElementById(held.id);
    if (still) {
      window.scrollBy(0, still.getBoundingClientRect().top - held.top);
    }
    answers().find(([, words]) => !heard.includes(words))?.[0].scrollIntoView({ block: "nearest" });
  }
  const verdict = document.querySelector(".verdict");
  const said = answers().map(([, words]) => words);
  say(alert ? "" : [document.title, verdict && verdict.textContent, ...said].filter(Boolean).join(": "));
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.plain !== undefined || event.defaultPrevented) {
    return;
  }
  event.preventDefault();
  if (document.body.classList.contains("busy")) {
    // A second tap while the first is under way, as a gloved hand makes it, is not a second wish.
    return;
  }
  const data = new FormData(form, event.submitter);
  if (form.method === "get") {
    const address = new URL(form.action);
    address.search = new URLSearchParams(data).toString();
    answer({}, address, true);
  } else {
    const files = form.enctype === "multipart/form-data";
    const where = event.submitter && event.submitter.hasAttribute("formaction") ? event.submitter.formAction : form.action;
    answer({ method: "POST", body: files ? data : new URLSearchParams(data) }, where, true);
  }
});

document.addEventListener("click", (event) => {
  const link = event.target.closest && event.target.closest("a.chip, .calls a, a[data-in-place]");
  if (link && event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey) {
    event.preventDefault();
    answer({}, link.href, true).then(() => document.getElementById(link.hash.slice(1))?.scrollIntoView({ block: "nearest" }));
  }
});

// Escape puts back what is in the hand, unless it closes a list.
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && !event.target.closest("input, select, textarea")) {
    document.getElementById("put-back")?.click();
  }
});

// A search answers while it is typed: the form names what of the page is its answer.

let latest = 0;

async function search(form) {
  const address = new URL(form.action);
  address.search = new URLSearchParams(new FormData(form)).toString();
  latest += 1;
  const mine = latest;
  const old = document.getElementById(form.dataset.live);
  // What is out of date is not to be pressed meanwhile.
  old.inert = !old.contains(document.activeElement);
  const response = await fetch(address).catch(() => null);
  if (!response || mine !== latest || !form.isConnected) {
    old.inert = !response ? false : old.inert;
    return;
  }
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  const [here, there] = [document, page].map((where) => where.getElementById(form.dataset.live));
  if (mine !== latest || !here || !there) {
    return;
  }
  const focus = document.activeElement && here.contains(document.activeElement) ? document.activeElement.id : "";
  here.replaceWith(there);
  draw();
  window.history.replaceState({}, "", address);
  const chosen = document.getElementById(focus);
  if (chosen) {
    chosen.focus({ preventScroll: true });
    chosen.closest("li").scrollIntoView({ block: "nearest" });
  }
  localTimes();
  say(there.querySelector("[data-told]")?.textContent.trim() || "");
}

let typing = 0;

for (const kind of ["input", "change"]) {
  document.addEventListener(kind, (event) => {
    const form = event.target.form;
    if (form && form.dataset.live && (kind === "input") === (event.target.type === "search")) {
      window.clearTimeout(typing);
      typing = window.setTimeout(() => search(form), kind === "input" ? 120 : 0);
    }
  });
}

window.addEventListener("popstate", () => answer({}, window.location.href, false));
localTimes();
draw();
// What was ready before the page that tells so had come is taken like what is waited for.
document.getElementById("ready")?.click();
watch();
