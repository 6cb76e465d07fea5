// The player of a sequence: which moment is shown. What each moment lights was worked out by the server from the settled
// circuit; here it is only put on and off, so that a step is there at once. Without this every moment is a link.
"use strict";

(() => {
  const still = window.matchMedia("(prefers-reduced-motion: reduce)");
  let moments = [];
  let place = 0;
  let seconds = 0;
  let halt = null;

  const part = (name) => document.getElementById(`player-${name}`);
  const end = () => Number(part("time").max);

  // A page that has just come, or has been put in the place of another.
  function begin() {
    pause();
    const data = part("data");
    moments = data ? JSON.parse(data.textContent) : [];
    if (data) {
      seconds = Number(part("time").value);
      place = Number(document.querySelector("[data-instant]:not([hidden])").dataset.instant);
      light();
      uncover();
      mark();
    }
  }

  // Light the loops of the moment in the drawing; nothing is drawn anew.
  function light() {
    const svg = document.querySelector("#drawing svg");
    if (!svg || !moments.length) {
      return [];
    }
    const { lines, lit } = moments[place];
    const changed = [];
    svg.classList.add("played");
    for (const line of svg.querySelectorAll("[data-line]")) {
      const way = lines[line.dataset.line];
      if (line.classList.contains("live") !== (way !== undefined)) {
        changed.push(line);
      }
      line.classList.toggle("live", way !== undefined);
      line.classList.toggle("forward", way === true);
      line.classList.toggle("backward", way === false);
    }
    for (const terminal of svg.querySelectorAll("[data-terminal]")) {
      terminal.classList.toggle("live", lit.includes(terminal.dataset.terminal));
    }
    return changed;
  }

  // Where the frame shows a part of the drawing only, and nothing in it has changed, go to what has.
  function follow(changed) {
    const figure = document.getElementById("drawing");
    const frame = figure.getBoundingClientRect();
    const boxes = changed.map((line) => line.getBoundingClientRect());
    const seen = (box) => box.bottom > frame.top && box.top < frame.bottom && box.right > frame.left && box.left < frame.right;
    if (boxes.length && !boxes.some(seen)) {
      figure.scrollTop += (boxes[0].top + boxes[0].bottom - frame.top - frame.bottom) / 2;
      figure.scrollLeft += (boxes[0].left + boxes[0].right - frame.left - frame.right) / 2;
    }
  }

  // Show in the slider and beside it where it stands.
  function mark() {
    const whole = Math.floor(seconds + 1e-6);
    const clock = `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
    part("time").value = seconds;
    part("time").setAttribute("aria-valuetext", `${clock}; from ${moments[place].told}`);
    part("clock").textContent = clock;
    part("back").disabled = seconds <= moments[0].at;
    part("next").disabled = place === moments.length - 1;
  }

  function go(to) {
    seconds = Math.min(Math.max(to, 0), end());
    const now = Math.max(0, moments.findLastIndex((moment) => moment.at <= seconds + 1e-6));
    if (now !== place) {
      place = now;
      for (const item of document.querySelectorAll("[data-instant]")) {
        item.hidden = Number(item.dataset.instant) !== place;
      }
      for (const item of document.querySelectorAll("[data-column]")) {
        item.classList.toggle("now", Number(item.dataset.column) === place);
      }
      for (const link of document.querySelectorAll("a[data-moment]")) {
        if (Number(link.dataset.moment) === place) {
          link.setAttribute("aria-current", "true");
        } else {
          link.removeAttribute("aria-current");
        }
      }
      follow(light());
      uncover();
    }
    mark();
  }

  // Keep the column of the moment in sight within the chart, and move nothing else.
  function uncover() {
    const chart = document.getElementById("chart");
    const head = chart.querySelector("th.now");
    if (head) {
      const [box, name] = [head.getBoundingClientRect(), chart.querySelector("tbody th").getBoundingClientRect()];
      if (box.left < name.right || box.right > chart.getBoundingClientRect().right) {
        chart.scrollLeft += box.left - name.right - 8;
      }
    }
  }

  // To the event before or after; back from between two events goes to the one that was last.
  function step(by) {
    const within = by < 0 && seconds > moments[place].at + 1e-6;
    go(moments[Math.min(Math.max(place + (within ? 0 : by), 0), moments.length - 1)].at);
    say(moments[place].told);
  }

  // The address says where it stands, so that the page can be loaded again or sent on.
  function remember() {
    const address = new URL(window.location.href);
    address.searchParams.set("at", String(Math.round(seconds * 10) / 10));
    window.history.replaceState({}, "", address);
  }

  function pause() {
    if (halt) {
      halt();
      halt = null;
    }
    if (part("play")) {
      part("play").textContent = "Play";
    }
  }

  function play() {
    part("play").textContent = "Pause";
    const speed = Number(part("speed").value);
    if (seconds >= end() - 1e-6 || (!speed && place === moments.length - 1)) {
      go(0);
    }
    if (speed) {
      run(speed);
      return;
    }
    const timer = window.setInterval(() => {
      step(1);
      if (place === moments.length - 1) {
        pause();
        remember();
      }
    }, 1500);
    halt = () => window.clearInterval(timer);
  }

  // Who wants less motion sees the slider move when something happens, not in between.
  function run(speed) {
    let before = performance.now();
    let at = seconds;
    let frame = 0;
    const tick = (now) => {
      at += ((now - before) / 1000) * speed;
      before = now;
      const due = moments[place + 1];
      if (!still.matches || at >= end() || (due && due.at <= at)) {
        go(at);
      }
      if (at >= end()) {
        pause();
        remember();
      } else {
        frame = window.requestAnimationFrame(tick);
      }
    };
    frame = window.requestAnimationFrame(tick);
    halt = () => window.cancelAnimationFrame(frame);
  }

  document.addEventListener("click", (event) => {
    const target = event.target.closest && event.target.closest("a[data-moment], #player button");
    if (!target || !moments.length || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) {
      return;
    }
    event.preventDefault();
    const playing = halt !== null;
    pause();
    if (target.dataset.moment !== undefined) {
      go(moments[Number(target.dataset.moment)].at);
      say(moments[place].told);
    } else if (target === part("back") || target === part("next")) {
      step(target === part("back") ? -1 : 1);
    } else if (!playing) {
      play();
      return;
    }
    remember();
  });

  document.addEventListener("input", (event) => {
    if (event.target.id === "player-time") {
      pause();
      go(Number(event.target.value));
    }
  });

  document.addEventListener("change", (event) => {
    if (event.target.id === "player-time") {
      remember();
    } else if (event.target.id === "player-speed" && halt) {
      pause();
      play();
    }
  });

  document.addEventListener("callpath:shown", begin);
  document.addEventListener("callpath:drawn", light);
  begin();
})();
