// The sheet itself: what to do this week, the click, the log.
const data = JSON.parse(document.getElementById("data").textContent);
const w = wordsOf(data.lang);
// The language of an exercise's words, where it is not the sheet's.
const tongue = (x) => (x.l ? { lang: x.l } : {});
// A text with its language, where that is not the sheet's.
const say = (tag, text, props = {}) => h(tag, text.l ? { ...props, lang: text.l } : props, text.t);
const root = document.getElementById("sheet");

/* ---- small tools ---- */

function h(tag, props, ...children) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(props ?? {})) {
    if (k.startsWith("on")) e.addEventListener(k.slice(2), v);
    else if (k in e && k !== "list" && k !== "lang") e[k] = v;
    else if (v !== false && v !== null && v !== undefined) e.setAttribute(k, v === true ? "" : v);
  }
  for (const c of children.flat(3)) if (c !== null && c !== undefined && c !== false && c !== "") e.append(c);
  return e;
}

const dayOf = (iso) => new Date(iso + "T12:00:00");
const isoOf = (d) => `${d.getFullYear()}-${String(d.getMonth() + 1).padStart(2, "0")}-${String(d.getDate()).padStart(2, "0")}`;
const plus = (iso, n) => {
  const d = dayOf(iso);
  d.setDate(d.getDate() + n);
  return isoOf(d);
};
const dayText = (iso, form) => dayOf(iso).toLocaleDateString(data.lang === "de" ? "de-DE" : "en-GB", form ?? { day: "numeric", month: "long" });
const number = (v, places) => v.toLocaleString(data.lang === "de" ? "de-DE" : "en-GB", { minimumFractionDigits: places, maximumFractionDigits: places });
const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;

/* ---- what the runner enters ---- */

const shelf = `gaitwright.homework.${data.sheet}`;
let remembers = true;
let days = {};
try {
  localStorage.setItem("gaitwright.try", "1");
  localStorage.removeItem("gaitwright.try");
  const kept = JSON.parse(localStorage.getItem(shelf) ?? "{}");
  if (kept && typeof kept === "object" && !Array.isArray(kept)) days = kept;
} catch {
  remembers = false;
}
const blank = () => ({ done: [], ran: false, run_min: null, pain: null, next_day: false, bone: false, effort: null, per_min: null, note: "" });
const entry = (day) => ({ ...blank(), ...(days[day] ?? {}) });
const empty = (e) => JSON.stringify(e) === JSON.stringify(blank());

/** Keeps what was entered; anew draws the log again, where other fields belong to it now. */
function enter(day, change, anew = true) {
  const e = { ...entry(day), ...change };
  if (empty(e)) delete days[day];
  else days[day] = e;
  if (remembers) {
    try {
      localStorage.setItem(shelf, JSON.stringify(days));
    } catch {
      remembers = false;
    }
  }
  savedLine.textContent = remembers ? w.saved : w.lost;
  if (anew) showLog();
  showSend();
  showCounts();
}

function logOf(from, until) {
  const list = Object.keys(days)
    .filter((d) => (!from || d >= from) && (!until || d <= until))
    .sort()
    .map((date) => ({ date, ...entry(date) }));
  return { gaitwright_log: 1, visit: data.visit, sheet: data.sheet, days: list };
}

/* ---- which week, which day ---- */

const today = isoOf(new Date());
let week = 0;
data.weeks.forEach((k, i) => {
  if (k.from <= today) week = i;
});
const firstDay = data.weeks[0]?.from ?? today;
const lastDay = data.weeks.length ? plus(data.weeks[data.weeks.length - 1].from, 6) : today;
let day = today >= firstDay && today <= lastDay ? today : (data.weeks[week]?.from ?? today);

/* ---- figures ---- */

function figure(drawing, side, label) {
  const ns = "http://www.w3.org/2000/svg";
  const flip = side !== "" && side !== drawing.side;
  const x = (v) => (flip ? -v : v);
  const [left, top, wide, high] = drawing.box;
  const svg = document.createElementNS(ns, "svg");
  svg.setAttribute("viewBox", `${flip ? -(left + wide) : left} ${top} ${wide} ${high}`);
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", label);
  svg.setAttribute("class", side || "both");
  for (const s of drawing.s) {
    const points = [];
    for (let i = 0; i < s.p.length; i += 2) points.push(`${x(s.p[i])},${s.p[i + 1]}`);
    let e;
    if (s.t) {
      e = document.createElementNS(ns, "text");
      e.setAttribute("x", x(s.p[0]));
      e.setAttribute("y", s.p[1]);
      e.textContent = s.t;
      e.setAttribute("class", s.r);
    } else if (s.d) {
      e = document.createElementNS(ns, "circle");
      e.setAttribute("cx", x(s.p[0]));
      e.setAttribute("cy", s.p[1]);
      e.setAttribute("r", s.d);
      e.setAttribute("class", "area " + s.r);
    } else {
      e = document.createElementNS(ns, s.f ? "polygon" : "polyline");
      e.setAttribute("points", points.join(" "));
      e.setAttribute("class", (s.f ? "area " : "line ") + s.r);
      if (!s.f) e.setAttribute("stroke-width", s.w);
      if (s.h) e.setAttribute("stroke-dasharray", "22 18");
    }
    svg.append(e);
  }
  return svg;
}

/* ---- sound ---- */

let sound = null;
function speaker() {
  const Sound = window.AudioContext ?? window.webkitAudioContext;
  if (!Sound) return null;
  sound ??= new Sound({ latencyHint: "playback" });
  if (sound.state === "suspended") void sound.resume();
  return sound;
}
function beep(kind) {
  const ctx = speaker();
  if (!ctx) return;
  const b = ctx.createBuffer(1, Math.round(0.045 * ctx.sampleRate), ctx.sampleRate);
  b.getChannelData(0).set(clickVoice(kind, ctx.sampleRate));
  const s = ctx.createBufferSource();
  s.buffer = b;
  s.connect(ctx.destination);
  s.start();
}

let screenLock = null;
async function stayAwake(on) {
  try {
    if (on) screenLock = await navigator.wakeLock?.request("screen");
    else {
      await screenLock?.release();
      screenLock = null;
    }
  } catch {
    // the phone decides
  }
}

/* ---- the timer ---- */

let timing = null;
function stopTimer() {
  if (!timing) return;
  clearInterval(timing.tick);
  timing.close();
  timing = null;
}

function timer(item, x, box, button, finished) {
  stopTimer();
  const sides = item.side ? [item.side] : x.each ? ["left", "right"] : [""];
  const phases = phasesOf(item.dose, sides);
  const big = h("p", { className: "big" });
  const what = h("p", { className: "what" });
  const said = h("p", { className: "unseen", role: "status" });
  const bar = h("progress", { max: 1, value: 0, "aria-label": w.timer });
  let begun = performance.now();
  let stopped = 0;
  let last = -1;
  let lastRep = 0;
  let paused = false;
  const hold = h("button", { type: "button", onclick: () => {
    paused = !paused;
    if (paused) stopped = performance.now();
    else begun += performance.now() - stopped;
    hold.textContent = paused ? w.resume : w.pause;
  } }, w.pause);
  const quit = h("button", { type: "button", onclick: () => { stopTimer(); button.focus(); } }, w.stop);
  box.replaceChildren(what, big, bar, said, h("div", { className: "row" }, hold, quit));
  box.hidden = false;
  button.hidden = true;
  hold.focus();
  const step = () => {
    if (paused) return;
    const at = phaseAt(phases, (performance.now() - begun) / 1000);
    if (!at) {
      beep("count");
      stopTimer();
      finished();
      button.focus();
      return;
    }
    const p = at.phase;
    if (at.index !== last) {
      last = at.index;
      lastRep = 0;
      beep(p.kind === "work" ? "high" : "low");
      const text = [w.kinds[p.kind], w.sidesFirst[p.side], w.set(p.set, p.sets)].filter(Boolean).join(" · ");
      what.textContent = text;
      said.textContent = text;
      box.dataset.kind = p.kind;
    }
    if (at.rep !== lastRep) {
      if (at.rep > 1) beep("low");
      lastRep = at.rep;
    }
    big.textContent = p.reps ? w.rep(at.rep, p.reps) : clock(Math.ceil(at.left));
    bar.value = 1 - at.left / p.seconds;
  };
  timing = {
    tick: setInterval(step, 100),
    close: () => {
      box.replaceChildren();
      box.hidden = true;
      button.hidden = false;
      void stayAwake(false);
    },
  };
  void stayAwake(true);
  step();
}

/* ---- exercises ---- */

const counters = [];
function showCounts() {
  for (const c of counters) c();
}

function card(item) {
  const x = data.exercises[item.x];
  const sided = item.side ? w.sides[item.side] : x.each ? w.both : "";
  const check = h("input", { type: "checkbox", id: `done-${item.id}`, onchange: () => {
    const e = entry(day);
    enter(day, { done: check.checked ? [...new Set([...e.done, item.id])].sort() : e.done.filter((d) => d !== item.id) });
  } });
  check.dataset.item = item.id;
  counters.push(() => (check.checked = entry(day).done.includes(item.id)));
  const box = h("div", { className: "timer", hidden: true });
  const go = h("button", { type: "button", className: "go", onclick: () => timer(item, x, box, go, () => { if (!check.checked) check.click(); }) }, w.timer, h("span", { className: "unseen" }, `: ${x.title}`));
  const drawnSide = item.side || x.start.side || "";
  return h(
    "article",
    { className: "card" },
    h("div", { className: "head" },
      h("div", {},
        h("h3", tongue(x), x.title),
        h("p", { className: "dose" }, h("b", {}, w.dose(item.dose)), sided ? h("span", { className: "side " + (item.side || "") }, sided) : null),
      ),
    ),
    h("div", { className: "figures" },
      h("figure", {}, figure(x.start, item.side, w.figureOf(x.title, w.start, w.sides[drawnSide])), h("figcaption", {}, w.start)),
      h("figure", {}, figure(x.end, item.side, w.figureOf(x.title, w.end, w.sides[drawnSide])), h("figcaption", {}, w.end)),
    ),
    h("p", { className: "cue", ...tongue(x) }, x.cue),
    h("details", {}, h("summary", {}, w.how, h("span", { className: "unseen" }, `: ${x.title}`)),
      h("ol", tongue(x), x.how.map((s) => h("li", {}, s))),
      h("p", {}, w.felt + " ", h("b", tongue(x), x.felt), ". ", x.not_felt ? [w.notFelt + " ", h("b", tongue(x), x.not_felt), "."] : null),
      x.easier ? h("p", {}, w.easier + ": ", h("span", x.le ? { lang: x.le } : {}, x.easier)) : null,
      h("p", { className: "soft" }, w.perWeek(item.dose.per_week)),
    ),
    box,
    h("div", { className: "foot" }, go, h("label", { className: "check" }, check, h("span", {}, w.done, h("span", { className: "unseen" }, `: ${x.title}${sided ? ", " + sided : ""}`)))),
  );
}

function group(title, items) {
  if (!items.length) return null;
  const count = h("span", { className: "soft" });
  counters.push(() => {
    const done = entry(day).done;
    count.textContent = w.doneCount(items.filter((i) => done.includes(i.id)).length, items.length);
  });
  const minutes = Math.ceil(items.reduce((a, i) => a + i.time_s, 0) / 60);
  return h("section", {}, h("h2", {}, title, minutes > 0 ? h("small", {}, w.minutes(minutes)) : null), count, items.map(card));
}

/* ---- the click ---- */

let playing = null;
function stopClick() {
  if (!playing) return;
  clearInterval(playing.tick);
  playing.laid.stop();
  playing.deaf?.();
  void stayAwake(false);
  playing = null;
}

// Speed, pace and step as they are shown; the sheet's data and its log are in SI units.
const us = data.units === "us";
const mile = 1609.344; // metres
const inch = 0.0254;
const speedOf = (mps) => (us ? `${number((mps * 3600) / mile, 1)} ${w.mph}` : `${number(mps * 3.6, 1)} ${w.kmh}`);
const paceOf = (mps) => `${clock(Math.round((us ? mile : 1000) / mps))} ${us ? w.perMile : w.perKm}`;
const stepOf = (m) => w.step(us ? `${number(m / inch, 1)} ${w.inches}` : number(m, 2) + " m");

function clickPart(k) {
  const c = k.click;
  if (!c) return h("p", { className: "message" }, w.noClick);
  const paces = c.at?.length ? c.at : [{ name: "", per_min: c.per_min, speed_mps: 0, step_length_m: 0 }];
  let chosen = paces[0];
  const rate = h("p", { className: "rate" });
  const about = h("p", { className: "soft" });
  const state = h("p", { className: "state", role: "status" });
  const left = h("p", { className: "soft" });
  const heard = h("p", { className: "soft", role: "status" });
  const show = () => {
    rate.replaceChildren(String(Math.round(chosen.per_min)));
    about.textContent = chosen.speed_mps > 0 ? `${w.pace} ${speedOf(chosen.speed_mps)} · ${paceOf(chosen.speed_mps)} · ${stepOf(chosen.step_length_m)}` : "";
  };
  const choose = paces.length > 1
    ? h("fieldset", { className: "paces" }, h("legend", { className: "unseen" }, w.pace), paces.map((p, i) => h("label", {}, h("input", { type: "radio", name: "pace", checked: i === 0, onchange: () => { stopClick(); halt(); chosen = p; show(); } }), h("span", {}, p.name === "easy" ? w.easy : p.name))))
    : null;
  const button = h("button", { type: "button", className: "go wide", onclick: () => (playing ? (stopClick(), halt()) : start()) }, w.play);
  const check = h("button", { type: "button", hidden: true, onclick: () => {
    if (!playing || playing.deaf) return;
    heard.textContent = w.checking;
    playing.deaf = watchClick(sound, playing.out, playing.laid, (m) => {
      heard.textContent = w.checked(number(Math.max(0.01, m.worstMs), 2), m.n);
      heard.dataset.worst = m.worstMs;
      heard.dataset.clicks = m.n;
    });
  } }, w.check);
  function halt() {
    button.textContent = w.play;
    state.textContent = left.textContent = heard.textContent = "";
    check.hidden = true;
  }
  function start() {
    const ctx = speaker();
    if (!ctx) {
      state.textContent = w.noSound;
      return;
    }
    stopTimer();
    const out = ctx.createGain();
    out.connect(ctx.destination);
    const perMin = Math.round(chosen.per_min);
    const lay = () => {
      const laid = layClick(ctx, out, { perMin, minutes: c.run_min, onMin: c.on_min, offMin: c.off_min, countIn: 8, accent: data.accent }, ctx.currentTime + 0.25);
      const blocks = clickBlocks(c.run_min, c.on_min, c.off_min);
      const tick = setInterval(() => {
        const t = ctx.currentTime - laid.start;
        if (t < 0) state.textContent = w.countIn(Math.min(8, Math.max(1, 8 + Math.ceil(t / laid.step))));
        else if (t >= c.run_min * 60) {
          stopClick();
          halt();
          state.textContent = w.over;
        } else {
          const on = blocks.some(([a, b]) => t >= a && t < b);
          const text = on ? w.heard : w.silent;
          if (state.textContent !== text) state.textContent = text;
          state.dataset.on = on;
          left.textContent = w.left(clock(c.run_min * 60 - t));
        }
      }, 200);
      playing = { laid, tick, out };
      button.textContent = w.halt;
      check.hidden = false;
      void stayAwake(true);
    };
    ctx.resume().then(lay, lay);
  }
  show();
  const minutes = (v) => number(v, Number.isInteger(v) ? 0 : 1);
  return h("section", { className: "click" },
    h("h2", {}, w.clickTitle), choose, rate, about, h("p", {}, h("b", {}, w.keep)),
    h("p", {}, w.schedule(minutes(c.on_min), c.off_min, minutes(c.run_min)) + "."),
    button, state, left, h("p", { className: "soft" }, w.accent[data.accent] + " " + w.awake), check, heard,
    c.note.t ? say("p", c.note, { className: "soft" }) : null,
  );
}

/* ---- the log ---- */

const logPart = h("div", {});
const sendPart = h("div", {});
const savedLine = h("p", { className: "soft saved", role: "status" }, remembers ? w.privacy : w.lost);

function scale(name, label, hint, value, onvalue) {
  const id = "scale-" + name;
  const input = h("select", { id, "aria-describedby": hint ? id + "-hint" : null, onchange: () => onvalue(input.value === "" ? null : Number(input.value)) },
    h("option", { value: "" }, w.notEntered), Array.from({ length: 11 }, (_, i) => h("option", { value: String(i), selected: value === i }, String(i))));
  return h("div", { className: "field" }, h("label", { htmlFor: id }, label), input, hint ? h("small", { id: id + "-hint" }, hint) : null);
}

function amount(name, label, hint, value, low, top, onvalue) {
  const id = "amount-" + name;
  const input = h("input", { id, type: "number", inputMode: "numeric", min: low, max: top, step: 1, value: value ?? "", "aria-describedby": hint ? id + "-hint" : null, onchange: () => {
    const v = Number(input.value);
    if (input.value === "") onvalue(null);
    else if (v >= low && v <= top) onvalue(Math.round(v));
    else input.reportValidity();
  } });
  return h("div", { className: "field" }, h("label", { htmlFor: id }, label), input, hint ? h("small", { id: id + "-hint" }, hint) : null);
}

function tick(name, label, value, onvalue) {
  return h("label", { className: "check" }, h("input", { type: "checkbox", id: "tick-" + name, checked: value, onchange: (e) => onvalue(e.target.checked) }), h("span", {}, label));
}

function showLog() {
  const held = document.activeElement?.id;
  const e = entry(day);
  const put = (change) => enter(day, change);
  // A field that another is gone to from must stay where it is.
  const keep = (change) => enter(day, change, false);
  logPart.replaceChildren(
    h("h2", {}, dayText(day, { weekday: "long", day: "numeric", month: "long" })),
    tick("ran", w.ran, e.ran, (v) => put({ ran: v })),
    e.ran ? amount("minutes", w.runMin, "", e.run_min, 0, 1440, (v) => keep({ run_min: v })) : null,
    e.ran ? scale("effort", w.effort, "", e.effort, (v) => keep({ effort: v })) : null,
    e.ran ? amount("rate", w.perMin, w.perMinHint, e.per_min, 60, 300, (v) => keep({ per_min: v })) : null,
    scale("pain", w.pain, w.painHint, e.pain, (v) => put({ pain: v, ...(v ? {} : { next_day: false, bone: false }) })),
    e.pain ? tick("next", w.nextDay, e.next_day, (v) => put({ next_day: v })) : null,
    e.pain ? tick("bone", w.bone, e.bone, (v) => put({ bone: v })) : null,
    e.bone ? h("p", { className: "stop", role: "alert" }, w.painBone) : e.pain > 5 || e.next_day ? h("p", { className: "stop", role: "alert" }, w.painStop) : null,
    h("div", { className: "field" }, h("label", { htmlFor: "note" }, w.note), h("textarea", { id: "note", rows: 3, maxLength: 1000, value: e.note, onchange: (ev) => keep({ note: ev.target.value.trim() }) })),
  );
  if (held) document.getElementById(held)?.focus();
}

/* ---- sending ---- */

const codes = {};
for (const k of data.weeks) for (const i of [...k.warm, ...k.full, ...k.run]) codes[i.id] = i.code;

function qrPicture(modules, label) {
  const ns = "http://www.w3.org/2000/svg";
  const n = modules.length;
  const svg = document.createElementNS(ns, "svg");
  svg.setAttribute("viewBox", `-4 -4 ${n + 8} ${n + 8}`);
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", label);
  svg.setAttribute("class", "qr");
  svg.setAttribute("shape-rendering", "crispEdges");
  const paper = document.createElementNS(ns, "rect");
  for (const [k, v] of Object.entries({ x: -4, y: -4, width: n + 8, height: n + 8, fill: "#fff" })) paper.setAttribute(k, v);
  let path = "";
  modules.forEach((row, y) => row.forEach((on, x) => { if (on) path += `M${x} ${y}h1v1h-1z`; }));
  const ink = document.createElementNS(ns, "path");
  ink.setAttribute("d", path);
  ink.setAttribute("fill", "#000");
  svg.append(paper, ink);
  return svg;
}

let sendAll = false;
let sendPartNo = 0;

function showSend() {
  if (sendPart.hidden || !data.weeks[week]) return;
  const held = document.activeElement?.id;
  const from = data.weeks[week].from;
  const all = logOf();
  const log = sendAll ? all : logOf(from, plus(from, 6));
  const name = `homework-${today}.json`;
  const said = h("p", { className: "soft", role: "status" });
  const body = () => new File([JSON.stringify(all, null, 1)], name, { type: "application/json" });
  const save = h("button", { type: "button", className: "go wide", disabled: !all.days.length, onclick: () => {
    const url = URL.createObjectURL(body());
    const a = h("a", { href: url, download: name });
    document.body.append(a);
    a.click();
    a.remove();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
  } }, w.file);
  const canShare = (() => {
    try {
      return !!navigator.canShare?.({ files: [body()] });
    } catch {
      return false;
    }
  })();
  const share = canShare ? h("button", { type: "button", className: "wide", disabled: !all.days.length, onclick: () => navigator.share({ files: [body()], title: w.homework }).catch(() => {}) }, w.share) : null;
  const parts = [h("h2", {}, w.parts.send), h("p", {}, w.sendLead), save, share, h("h2", {}, w.codeTitle),
    h("fieldset", { className: "paces" }, h("legend", { className: "unseen" }, w.codeTitle),
      [[false, w.codeWeek], [true, w.codeAll]].map(([v, text], i) => h("label", {}, h("input", { type: "radio", name: "what", id: "what-" + i, checked: sendAll === v, onchange: () => { sendAll = v; sendPartNo = 0; showSend(); } }), h("span", {}, text))))];
  if (!log.days.length) parts.push(h("p", { className: "soft" }, sendAll ? w.nothingAtAll : w.nothing));
  else {
    const text = logCode(log, codes);
    const pieces = logParts(log, codes);
    sendPartNo = Math.min(sendPartNo, pieces.length - 1);
    const modules = qrModules(pieces[sendPartNo]);
    const field = h("textarea", { id: "code", readOnly: true, rows: 4, value: text, "aria-label": w.codeText });
    const go = (by) => () => { sendPartNo += by; showSend(); };
    parts.push(h("p", { className: "soft" }, w.codeHint(pieces.length)), modules ? qrPicture(modules, w.qr(sendPartNo + 1, pieces.length)) : null,
      pieces.length > 1 ? h("div", { className: "turn" }, h("button", { type: "button", id: "part-back", disabled: sendPartNo === 0, onclick: go(-1) }, w.partBack),
        h("b", { role: "status" }, w.partOf(sendPartNo + 1, pieces.length)),
        h("button", { type: "button", id: "part-on", disabled: sendPartNo === pieces.length - 1, onclick: go(1) }, w.partOn)) : null,
      h("details", {}, h("summary", {}, w.codeText), field, h("button", { type: "button", onclick: async () => {
        field.select();
        try {
          await navigator.clipboard.writeText(text);
        } catch {
          document.execCommand("copy");
        }
        said.textContent = w.copied;
      } }, w.copy), said));
  }
  sendPart.replaceChildren(...parts.filter(Boolean));
  if (held) {
    const again = document.getElementById(held);
    (again?.disabled ? document.getElementById(held === "part-on" ? "part-back" : "part-on") : again)?.focus();
  }
}

/* ---- the page ---- */

const trainPart = h("div", {});
const runPart = h("div", {});
const dayRow = h("div", { className: "days", role: "group", "aria-label": w.day });
const weekLine = h("p", { className: "soft" });
const bodies = { train: trainPart, run: runPart, log: logPart, send: sendPart };
const tabs = {};
let part = "train";

function showPart(name, focus) {
  part = name;
  for (const [n, b] of Object.entries(bodies)) {
    b.hidden = n !== name;
    tabs[n].setAttribute("aria-selected", String(n === name));
    tabs[n].tabIndex = n === name ? 0 : -1;
  }
  if (focus) tabs[name].focus();
  if (name === "send") showSend();
  dayRow.hidden = name === "run" || name === "send";
}

function showDays() {
  const k = data.weeks[week];
  dayRow.replaceChildren(
    ...(k ? Array.from({ length: 7 }, (_, i) => plus(k.from, i)) : []).map((d) =>
      h("button", { type: "button", "aria-pressed": String(d === day), onclick: () => {
        day = d;
        showDays();
        showCounts();
        showLog();
        dayRow.querySelector('[aria-pressed="true"]')?.focus();
      } }, h("span", {}, dayText(d, { weekday: "short" })), " ", h("b", {}, String(dayOf(d).getDate())), h("span", { className: "unseen" }, ` ${dayText(d, { month: "long" })}${d === today ? `, ${w.today}` : ""}`), days[d] && !empty(entry(d)) ? h("i", {}) : null)),
  );
}

const noneSaid = () => say("p", data.none.t ? data.none : { t: w.none }, { className: "message" });

function showWeek() {
  stopTimer();
  stopClick();
  counters.length = 0;
  counters.push(() => showDays());
  const k = data.weeks[week];
  weekLine.textContent = today < firstDay ? w.before : today > lastDay ? w.after(data.retest ? dayText(data.retest) : "") : "";
  weekLine.hidden = !weekLine.textContent;
  if (!k) {
    trainPart.replaceChildren(noneSaid());
    runPart.replaceChildren(h("p", { className: "message" }, w.noClick));
    return;
  }
  const groups = [group(w.warm, k.warm), group(w.full, k.full)].filter(Boolean);
  trainPart.replaceChildren(...[k.note.t ? say("p", k.note, { className: "note" }) : null, ...(groups.length ? groups : [noneSaid()])].filter(Boolean));
  runPart.replaceChildren(...[clickPart(k), group(w.drills, k.run)].filter(Boolean));
  showDays();
  showCounts();
  showLog();
}

const weekSelect = h("select", { id: "week", onchange: () => {
  week = Number(weekSelect.value);
  const from = data.weeks[week].from;
  day = today >= from && today <= plus(from, 6) ? today : from;
  showWeek();
  showSend();
} }, data.weeks.map((k, i) => h("option", { value: String(i), selected: i === week }, w.weekOf(k.n, dayText(k.from, { day: "numeric", month: "short" }), dayText(plus(k.from, 6), { day: "numeric", month: "short" })))));

const names = Object.keys(bodies);
const nav = h("div", { className: "tabs", role: "tablist", "aria-label": w.homework, onkeydown: (e) => {
  const step = { ArrowRight: 1, ArrowLeft: -1 }[e.key];
  if (!step) return;
  e.preventDefault();
  showPart(names[(names.indexOf(part) + step + names.length) % names.length], true);
} }, names.map((n) => (tabs[n] = h("button", { type: "button", role: "tab", id: "tab-" + n, "aria-controls": "part-" + n, onclick: () => showPart(n) }, w.parts[n]))));
for (const n of names) {
  bodies[n].id = "part-" + n;
  bodies[n].setAttribute("role", "tabpanel");
  bodies[n].setAttribute("aria-labelledby", "tab-" + n);
}

root.replaceChildren(
  h("header", {}, h("h1", {}, w.hello(data.runner)), h("p", { className: "soft" }, w.from(data.studio, dayText(data.made, { day: "numeric", month: "long", year: "numeric" })))),
  h("details", { className: "signs", open: !Object.keys(days).length }, h("summary", {}, w.stopTitle), h("ul", {}, data.stop.map((s) => say("li", s)))),
  ...(data.cautions.length ? [h("div", { className: "note" }, data.cautions.map((c) => say("p", c)))] : []),
  h("div", { className: "when" }, h("label", { htmlFor: "week" }, w.week), weekSelect),
  weekLine,
  nav,
  dayRow,
  ...names.map((n) => bodies[n]),
  savedLine,
  h("details", { className: "rules" }, h("summary", {}, w.rules), h("dl", {}, data.rules.map((r) => [say("dt", r.if), say("dd", r.then)]))),
);
showWeek();
showPart("train");
