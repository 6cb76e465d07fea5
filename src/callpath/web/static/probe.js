// Fault finder and practice: a tap in the drawing puts the leads, clamps around a conductor, or names what is at fault. All of
// it stands in the form's lists as well, so that it can be done without this.
"use strict";

(() => {
  const form = () => document.getElementById("probe");
  const culprit = () => document.getElementById("culprit");
  const naming = () => Boolean(document.querySelector('#tap input[value="name"]:checked'));
  const metered = () => ["volts", "low-z", "ohms", "jump"].includes(form().kind.value);
  let held = "";

  function choose(select, value) {
    const there = [...select.options].some((option) => option.value === value);
    if (there) {
      select.value = value;
    }
    return there;
  }

  // ---- a test ----

  function lead(name) {
    const { red, black, kind } = form();
    if (!metered()) {
      kind.value = "volts";
    }
    const next = !red.value || black.value ? red : black;
    if (next === red) {
      black.value = "";
    }
    if (choose(next, name)) {
      say(`${kind.value === "jump" ? "Jumper" : next === red ? "Red lead" : "Black lead"} on ${name}`);
    }
  }

  function clamp(name) {
    const { kind, conductor, lifted } = form();
    if (kind.value === "ohms") {
      choose(lifted, name);
      say(`${name} lifted`);
    } else if (choose(conductor, name)) {
      kind.value = "amps";
      say(`Clamp around ${name}`);
    }
  }

  // ---- a name for what is at fault ----

  function name(tapped, ends) {
    const selects = [...culprit().querySelectorAll("select")];
    const select = selects.find((each) => !each.value) || selects[selects.length - 1];
    const values = [...select.options].map((option) => option.value);
    const pair = (one, other) => [one, other].sort().join(" ");
    const used = selects.find((each) => each.value && each.value === held);
    const jumper = ends && pair(...ends.split(" "));
    if (held && used && values.includes(pair(held, tapped))) {
      used.value = pair(held, tapped);
      held = "";
    } else if (values.includes(tapped)) {
      select.value = tapped;
      held = tapped;
    } else if (jumper && values.includes(jumper)) {
      select.value = jumper;
    } else if (held && values.includes(pair(held, tapped))) {
      select.value = pair(held, tapped);
      held = "";
    } else {
      // A terminal or a piece of equipment: what is in it, one after the other.
      held = tapped.includes(".") ? tapped : "";
      const device = `${tapped.split(".")[0]}.`;
      const inside = values.filter((value) => value.startsWith(device) && !value.includes(" "));
      const turn = selects.find((each) => inside.includes(each.value)) || select;
      if (inside.length) {
        turn.value = inside[(inside.indexOf(turn.value) + 1) % inside.length];
      }
    }
    say(`At fault: ${selects.map((each) => each.value).filter(Boolean).join(", ")}`);
  }

  // ---- the drawing ----

  // A word on a plate at a terminal, as the server draws it for the test that it proposes.
  function plate(terminal, word) {
    const [x, y, width, height] = ["x", "y", "width", "height"].map((key) => Number(terminal.querySelector("rect").getAttribute(key)));
    const size = Math.min(10, Math.max(7, 0.4 * height));
    const long = word.length * size * 0.602 + 5;
    const made = (tag, values) => {
      const item = document.createElementNS("http://www.w3.org/2000/svg", tag);
      for (const [key, value] of Object.entries(values)) {
        item.setAttribute(key, value);
      }
      return item;
    };
    const group = made("g", { class: `probe mine plate-${word}` });
    const right = x + width - 2;
    group.append(made("rect", { x: right - long, y: y + height / 2 - 0.7 * size, width: long, height: 1.4 * size, rx: 2.5, fill: word === "red" ? "#b00020" : "#1a1a1a", stroke: "#ffffff" }));
    const text = made("text", { x: right - long / 2, y: y + height / 2 + 0.35 * size, "font-size": size, "text-anchor": "middle", "font-weight": "bold", fill: "#ffffff" });
    text.textContent = word;
    group.append(text);
    terminal.parentNode.append(group);
  }

  // In a frame that shows a part of the drawing only, the part where the test is made.
  function uncover(figure) {
    const plate = figure.querySelector(".plate-red, .plate-clamp, .plate-jump, .plate-look");
    if (plate && figure.dataset.seen !== figure.dataset.src) {
      const [box, frame] = [plate.getBoundingClientRect(), figure.getBoundingClientRect()];
      figure.scrollTop += (box.top + box.bottom - frame.top - frame.bottom) / 2;
      figure.scrollLeft += Math.min(0, box.left - frame.left - 8) + Math.max(0, box.right - frame.right + 8);
    }
    figure.dataset.seen = figure.dataset.src;
  }

  function mark() {
    const svg = document.querySelector(".test-drawing svg");
    if (svg) {
      uncover(svg.parentNode);
    }
    if (!svg || !form()) {
      return;
    }
    svg.classList.add("operable");
    for (const old of svg.querySelectorAll(".probe.mine")) {
      old.remove();
    }
    const { kind, red, black, conductor, lifted } = form();
    for (const [select, word] of [[red, "red"], [black, "black"]]) {
      const terminal = [...svg.querySelectorAll("[data-terminal]")].find((item) => item.dataset.terminal === select.value);
      if (metered() && terminal) {
        plate(terminal, kind.value === "jump" ? "jump" : word);
      }
    }
    const mine = metered() && Boolean(red.value || black.value);
    svg.classList.toggle("own", mine || kind.value === "amps");
    const named = culprit() ? [...culprit().querySelectorAll("select")].flatMap((each) => each.value.split(" ")) : [];
    const about = [kind.value === "amps" ? conductor.value : "", kind.value === "ohms" ? lifted.value : "", ...(naming() ? named : [])];
    for (const line of svg.querySelectorAll("[data-line]")) {
      line.classList.toggle("picked", about.includes(line.dataset.line));
    }
  }

  function lineOf(figure, target) {
    const hit = target.closest("[data-hit]");
    return hit ? [...figure.querySelectorAll("[data-line]")].find((line) => line.dataset.line === hit.dataset.hit) : target.closest("[data-line]");
  }

  document.addEventListener("click", (event) => {
    const figure = event.target.closest && event.target.closest(".test-drawing");
    if (!figure || !form()) {
      return;
    }
    const line = lineOf(figure, event.target);
    const terminal = event.target.closest("[data-terminal]");
    const block = event.target.closest("[data-block]");
    if (naming() && (terminal || line || block)) {
      name(terminal ? terminal.dataset.terminal : line ? line.dataset.line : block.dataset.block, line && line.dataset.ends);
    } else if (terminal) {
      lead(terminal.dataset.terminal);
    } else if (line) {
      clamp(line.dataset.line);
    }
    const panel = form().closest("details");
    if (panel && (terminal || line)) {
      panel.open = true;
    }
    mark();
  });

  document.addEventListener("change", (event) => {
    if (event.target.closest("#probe, #culprit, #tap")) {
      held = "";
      mark();
    }
  });

  document.addEventListener("callpath:shown", () => { held = ""; });
  document.addEventListener("callpath:drawn", mark);
})();
