// Looks up what was worked out beforehand. Words go in as text, never as markup.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("data").textContent);
  const $ = (id) => document.getElementById(id);
  const leads = [$("lead-a"), $("lead-b")];
  const place = new Map(data.points.map((name, i) => [name, i]));
  const pairs = data.pairs && new Map(data.pairs.map(([i, j], k) => [key(i, j), k]));
  let call = Object.keys(data.calls)[0];
  let next = 0;

  function key(i, j) { return Math.max(i, j) + "," + Math.min(i, j); }

  function fill(list, items, make) {
    list.replaceChildren(...items.map(make));
  }

  function line(tag, text) {
    const made = document.createElement(tag);
    made.textContent = text;
    return made;
  }

  function reading(i, j) {
    const at = pairs ? pairs.get(key(i, j)) : Math.max(i, j) * (Math.max(i, j) - 1) / 2 + Math.min(i, j);
    if (at === undefined || i === j) return null;
    return data.calls[call].volts.slice(3 * at, 3 * at + 3).map((hundredths) => hundredths / 100);
  }

  function meter() {
    const [a, b] = leads.map((select) => (select.value === "" ? null : Number(select.value)));
    document.querySelectorAll(".terminal").forEach((terminal) => {
      const at = place.get(terminal.dataset.terminal);
      terminal.classList.toggle("lead", at !== undefined && (at === a || at === b));
    });
    if (a === null || b === null) {
      $("reading").textContent = a === null && b === null ? "Choose two points." : "Choose the other point.";
      return;
    }
    const found = reading(a, b);
    const names = data.shown[a] + " to " + data.shown[b] + " on '" + call + "': ";
    $("reading").textContent = a === b ? "Both leads are on " + data.shown[a] + "."
      : found ? names + found[0].toFixed(2) + " V (" + found[1].toFixed(2) + " to " + found[2].toFixed(2) + " V)"
      : names + "not in this sheet; ask the program.";
  }

  function choose(name) {
    call = name;
    const now = data.calls[call];
    document.querySelectorAll("[data-line]").forEach((group) => {
      const ahead = now.lines[group.dataset.line];
      group.classList.toggle("live", ahead !== undefined);
      group.classList.toggle("forward", ahead === true);
      group.classList.toggle("backward", ahead === false);
    });
    const lit = new Set(now.lit);
    document.querySelectorAll(".terminal").forEach((terminal) => {
      terminal.classList.toggle("live", lit.has(place.get(terminal.dataset.terminal)));
    });
    const dead = now.needed.filter((name) => !now.running.includes(name));
    const wrong = now.running.filter((name) => !now.needed.includes(name) && !now.allowed.includes(name));
    $("runs").textContent = "On '" + call + "' runs: " + (now.running.join(", ") || "nothing") + "."
      + (dead.length && now.served ? " Should run and does not: " + dead.join(", ") + "." : "")
      + (wrong.length ? " Must not run: " + wrong.join(", ") + "." : "")
      + (now.served || call === "off" ? "" : " This job does not serve the call.");
    fill($("loops"), now.loops.length ? now.loops : ["No current leaves any equipment."], (text) => line("li", text));
    fill($("sequence"), now.events.length ? now.events : ["Nothing happens."], (text) => line("li", text));
    fill($("expected"), now.asked, ([i, j]) => {
      const row = document.createElement("tr");
      const found = reading(i, j);
      row.append(
        line("td", data.shown[i] + " to " + data.shown[j]),
        line("td", found[0].toFixed(1) + " V"),
        line("td", found[1].toFixed(1) + " to " + found[2].toFixed(1) + " V"),
      );
      return row;
    });
    meter();
  }

  // The fault tree: the steps made so far, each with the answer that was given.
  let trail = [];

  function button(text, act) {
    const made = line("button", text);
    made.type = "button";
    made.addEventListener("click", act);
    return made;
  }

  function ready(step) {
    const [, , , onCall, points] = step;
    if (!onCall) return;
    document.querySelector('input[name=call][value="' + CSS.escape(onCall) + '"]').checked = true;
    if (points.length === 2) leads.forEach((select, k) => { select.value = String(points[k]); });
    choose(onCall);
  }

  function search() {
    const box = $("tree");
    const start = $("symptom").value;
    if (start === "") { box.replaceChildren(); return; }
    let node = data.tree[Number(start)];
    const made = document.createElement("ol");
    trail.forEach((k) => {
      made.append(line("li", node[0] + " – " + node[5][k][0]));
      node = node[5][k][1];
    });
    const shown = [line("p", $("symptom").selectedOptions[0].textContent), ...(trail.length ? [made] : [])];
    if (node.length === 1) {
      const ends = document.createElement("ul");
      node[0].forEach((words) => ends.append(line("li", words)));
      shown.push(line("h3", node[0].length > 1 ? "One of these, which no test here tells apart" : "What is wrong"), ends,
        line("p", "Mend it, then commission the job anew."));
    } else {
      shown.push(line("h3", node[0]), line("p", "Where: " + node[1] + "."));
      data.cautions[node[2]].forEach((words) => shown.push(line("p", words)));
      shown.push(line("p", "What does it show?"));
      node[5].forEach(([words], k) => shown.push(button(words, () => { trail.push(k); search(); })));
      shown.push(line("p", "None of these: read again; if it stays, more than one thing is wrong, or this sheet is not of this job."));
      ready(node);
    }
    if (trail.length) shown.push(button("Back", () => { trail.pop(); search(); }));
    box.replaceChildren(...shown);
    const head = box.querySelector("h3");
    head.tabIndex = -1;
    if (trail.length) head.focus();
  }

  if ($("symptom")) $("symptom").addEventListener("change", () => { trail = []; search(); });
  document.querySelectorAll("input[name=call]").forEach((input) => {
    input.addEventListener("change", () => choose(input.value));
  });
  leads.forEach((select) => select.addEventListener("change", meter));
  document.querySelectorAll(".wiring").forEach((drawing) => drawing.addEventListener("click", (event) => {
    const terminal = event.target.closest("[data-terminal]");
    const at = terminal && place.get(terminal.dataset.terminal);
    if (at === undefined || at === null) return;
    leads[next].value = String(at);
    if (next === 0) leads[1].value = "";
    next = 1 - next;
    meter();
  }));
  $("larger").addEventListener("click", () => {
    const big = $("larger").getAttribute("aria-pressed") !== "true";
    $("larger").setAttribute("aria-pressed", String(big));
    document.querySelectorAll(".drawing").forEach((box) => box.classList.toggle("big", big));
  });
  choose(call);
})();
