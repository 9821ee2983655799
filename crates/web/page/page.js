// The page: what is asked stands in fields, what the library answers above them. Nothing is computed here but units of show.

const unpacked = (id) => {
  const bytes = Uint8Array.from(atob(document.getElementById(id).textContent), (letter) => letter.charCodeAt(0));
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).arrayBuffer();
};
/** What shows the state again, in fields and in answers; and an error that an action met. */
const [refreshes, answers] = [[], []];
let refused;
const library = await load(await unpacked("wasm"));

/** What was kept here before; nothing where a browser keeps nothing or it cannot be read. */
function kept() {
  try {
    return JSON.parse(localStorage.getItem("pointage"));
  } catch {
    return {};
  }
}
const state = {
  yeast: "instant", degrees: "°C", masses: "g", room_c: 21, flour_c: 20, tap_c: 15, scale_step_g: 1,
  kind: "poolish", for_h: 12, at_c: 21, flour_mass_g: 500, dose_percent: 0.1, mixed: hourOf(new Date()),
  dough_c: 25, mix_flour_g: 1000, mix_water_g: 650, first_out: "09:00", date: null, bake: document.getElementById("bake").textContent.trim(),
  stage: "mix", found_c: 27, rise: 1.6, measured: [], keeps: true, done: [],
  seen: "ripe", hours: 12, log_water_g: 500, yeast_g: 1, log: [],
  ...kept(),
  at: hourOf(new Date()),
  // What was measured before this visit is no measurement of now.
  measures: false,
};

const OUNCE = 28.349523125;
const two = (number) => String(number).padStart(2, "0");
const digits = (value, most) => String(Number(value.toFixed(most)));
const fahrenheit = (c) => c * 1.8 + 32;
/** 11.5 as 11 h 30. */
function length(hours) {
  const minutes = Math.round(hours * 60);
  return `${Math.trunc(minutes / 60)} h${minutes % 60 ? ` ${two(minutes % 60)}` : ""}`;
}
/** 11 h 30, 11:30 or 11.5, in hours. */
function hoursOf(text) {
  const [, hours, minutes] = text.match(/^\s*(\d+(?:\.\d+)?)\s*(?:[h:]\s*(\d*))?/) ?? [];
  return Number(hours) + Number(minutes ?? 0) / 60;
}
/** How a quantity is shown, and read back. Little is weighed in grams even where ounces are usual. */
function unit(of) {
  const same = (value) => value;
  const plain = { to: same, from: same, show: (shown) => digits(shown, 2), read: parseFloat };
  if (of === "h") return { ...plain, mark: "", show: length, read: hoursOf };
  if (of === "c" && state.degrees === "°F") return { ...plain, mark: "°F", step: 1, to: fahrenheit, from: (f) => (f - 32) / 1.8, show: (f) => digits(f, 1) };
  if (of === "g" && state.masses === "oz") return { ...plain, mark: "oz", step: 0.5, to: (g) => g / OUNCE, from: (oz) => oz * OUNCE };
  return { ...plain, mark: { c: "°C", g: "g", little: "g", percent: "%", fold: "fold" }[of] };
}
const degrees = (c) => `${digits(unit("c").to(c), 1)} ${unit("c").mark}`;
/** Water is poured to half a degree Celsius, or one of Fahrenheit. */
const poured = (c) => (state.degrees === "°F" ? `${digits(fahrenheit(c), 0)} °F` : `${Math.round(c * 2) / 2} °C`);
const mass = (g) => (g < OUNCE || state.masses === "g" ? `${digits(g, g < 10 ? 2 : 0)} g` : `${digits(g / OUNCE, g < 10 * OUNCE ? 2 : 1)} oz`);
/** A sentence of the library in the units of the kitchen: a temperature, a range of them, or a difference. */
function translated(text) {
  const number = "(-?\\d+(?:\\.\\d+)?)";
  const quantities = (mark) => new RegExp(`${number}(?: (and|to) ${number})? ${mark}(?![\\w/])( warmer| colder)?`, "g");
  const inFahrenheit = (_, first, and, last, than) => {
    const [low, high] = [first, last].map((c) => digits(than ? c * 1.8 : fahrenheit(Number(c)), than ? 1 : 0));
    return `${and ? `${low} ${and} ${high}` : low} °F${than ?? ""}`;
  };
  const inOunces = (_, first, and, last) => (and ? `${mass(Number(first))} ${and} ` : "") + mass(Number(last ?? first));
  const warm = state.degrees === "°F" ? text.replace(quantities("°C"), inFahrenheit) : text;
  return state.masses === "oz" && !text.startsWith("Yeast slurry") ? warm.replace(quantities("g"), inOunces) : warm;
}
function hourOf(time) {
  return time.toTimeString().slice(0, 5);
}
/** The clock so many hours after a time of today. */
function clock(start, hours) {
  const [hour, minute] = start.split(":").map(Number);
  const time = new Date();
  time.setHours(hour, minute + Math.round(hours * 60), 0, 0);
  return hourOf(time);
}

// Fields: a key of the state, its label and its unit with the step, or its choices.
const KINDS = ["poolish", "biga", "sponge", "dough"];
const number = (key, label, of, step, least = 0, isAsked = () => true) => ({ key, label, of, step, least, isAsked });
const choice = (key, label, choices) => ({ key, label, choices });
const hour = (key, label) => ({ key, label, hour: true });
const AT = number("at_c", "It stands at", "c", 0.5, -5);

const dateOf = (time) => `${time.getFullYear()}-${two(time.getMonth() + 1)}-${two(time.getDate())}`;
/** The date of the next bake: tomorrow's once its first bread would be out by now. */
function nextDate() {
  const time = new Date();
  if (state.first_out <= hourOf(time)) time.setDate(time.getDate() + 1);
  return dateOf(time);
}
state.date ??= nextDate();
/** The bake and its hour, as the library asks for them. */
function day() {
  const { bake, first_out, date } = state;
  const minutes = -new Date(`${date}T${first_out}`).getTimezoneOffset();
  const utc_offset = `${minutes < 0 ? "-" : "+"}${two(Math.trunc(Math.abs(minutes) / 60))}:${two(Math.abs(minutes) % 60)}`;
  return { bake_toml: bake, first_out, date, utc_offset };
}
function steps() {
  if (!state.measured.length) return library.plan(day());
  const { kept, after } = library.adjust({ ...day(), measured: state.measured });
  return state.keeps && kept ? kept.plan : after;
}
const measurement = () => (state.stage === "mix" ? `mix ${state.found_c}C ${state.at}` : `bulk ${state.rise}x ${state.at}`);
/** All measurements, with the one that stands in the fields. A dough comes off the mixer once: the later word counts. */
const measured = () => [...state.measured.filter((other) => other !== measurement() && !(state.stage === "mix" && other.startsWith("mix "))), measurement()];
const row = () => ({
  date: dateOf(new Date()), kind: state.kind, flour_g: state.flour_mass_g, water_g: state.log_water_g,
  salt_g: 0, yeast: state.yeast, yeast_g: state.yeast_g, temperature_c: state.at_c, hours: state.hours, seen: state.seen,
});

const QUESTIONS = [
  {
    id: "dose", title: "Yeast for tonight",
    fields: [choice("kind", "What", KINDS), number("for_h", "Ripe after", "h", 0.5, 0.5), AT, number("flour_mass_g", "Its flour", "g", 50, 1)],
    answer() {
      const { kind, for_h, at_c, flour_mass_g, yeast, scale_step_g } = state;
      const dose = library.dose({ kind, for_h, at_c, flour_mass_g, yeast, scale_step_g });
      const lines = [`Mixed now, it is ripe at about ${clock(hourOf(new Date()), for_h)}.`, dose.weigh?.words];
      return { large: `${mass(dose.yeast_g)} of ${spoken(yeast)} yeast`, lines, ...said(dose) };
    },
  },
  {
    id: "water", title: "The pour and its ice",
    fields: [number("dough_c", "Dough wanted", "c", 0.5), number("mix_flour_g", "Flour", "g", 50, 1), number("mix_water_g", "Water", "g", 25, 1)],
    answer() {
      const { dough_c, flour_c, room_c, tap_c, mix_flour_g: flour_mass_g, mix_water_g: water_mass_g } = state;
      const water = library.water({ dough_c, flour_c, room_c, tap_c, flour_mass_g, water_mass_g });
      const { water_c, ice_g, tap_g } = water;
      return { large: ice_g ? `${mass(tap_g)} from the tap, ${mass(ice_g)} of ice` : `Pour at ${poured(water_c)}`, ...said(water) };
    },
  },
  {
    id: "ready", title: "When is it ripe?",
    fields: [choice("kind", "What", KINDS), number("dose_percent", "Yeast, of its flour", "percent", 0.05, 0.01), AT, hour("mixed", "Mixed at")],
    answer() {
      const { kind, dose_percent, at_c, yeast, mixed } = state;
      const ready = library.ready({ kind, dose_percent, at_c, yeast });
      const { ready_h, range_h, window_h } = ready;
      const at = (hours) => clock(mixed, hours);
      const good = window_h && (window_h[1] ? `Good from ${at(window_h[0])} to ${at(window_h[1])}.` : `Good from ${at(window_h[0])}.`);
      const likely = range_h && `Look from ${at(range_h[0])}: 4 times in 5 it is ripe between then and ${at(range_h[1])}.`;
      return { large: `Ripe at about ${at(ready_h)}`, lines: [good, likely], ...said(ready) };
    },
  },
  {
    id: "day", title: "The day of a bake", fields: [hour("first_out", "First bread out")],
    answer() {
      // No list stands beside an error.
      list.replaceChildren();
      const plan = steps();
      const next = plan.steps.find((step) => !state.done.includes(step.key));
      const late = next && new Date(next.start) < new Date() && "Its hour has passed: tick it off, or set a later hour for the bread.";
      list.replaceChildren(...plan.steps.map(line));
      const large = next ? `${next.start.slice(11, 16)} ${next.text}` : "All done";
      return { large, name: plan.name, lines: [late, ...plan.problem.map(({ text }) => text)], ...said(plan) };
    },
  },
  {
    id: "changed", title: "It came out different: what now?",
    fields: [choice("stage", "Measured", ["mix", "bulk"]), number("found_c", "Dough", "c", 0.5, 0, () => state.stage === "mix"),
      number("rise", "Risen", "fold", 0.1, 1, () => state.stage === "bulk"), hour("at", "At")],
    answer() {
      const taken = state.measured.includes(measurement());
      keep.hidden = move.hidden = !(state.measures || taken);
      if (keep.hidden) return { large: "Measure, and set it here", brief: "" };
      const { now, kept, changes, advice, warnings, next_time } = library.adjust({ ...day(), measured: measured() });
      const ways = (kept?.ways ?? []).filter(({ text }) => text !== now?.text);
      if (ways.length) ways.unshift({ text: "To keep the oven's hour:" });
      keep.hidden = !kept;
      const lines = [...changes, ...ways, ...advice, next_time].filter(Boolean).map(({ text }) => text);
      const moved = taken && !(state.keeps && kept);
      if (taken) lines.unshift(`The day of the bake now ${moved ? "moves" : "keeps"} the oven's hour.`);
      return { large: moved ? "Go by the new hours of the day." : (now?.text ?? "Leave the day as it is."), brief: taken ? "in the day" : "", lines, ...said({ warnings, notes: [] }) };
    },
  },
  {
    id: "log", title: "Write it in the log",
    fields: [choice("kind", "What", KINDS), choice("seen", "Seen", ["ripe", "doubled", "not-yet", "past"]), number("hours", "After", "h", 0.25, 0.25),
      number("flour_mass_g", "Its flour", "g", 50, 1), number("log_water_g", "Its water", "g", 25, 1), number("yeast_g", "Its yeast", "little", 0.5, 0.1), AT],
    answer() {
      if (refused) throw refused;
      const last = state.log.at(-1);
      const large = last ? `${state.log.length} ${state.log.length === 1 ? "entry" : "entries"} in the log` : "The log is empty";
      return { large, lines: [last && `Last: ${last.date}, ${last.kind}, ${spoken(last.seen)} after ${length(last.hours)}.`] };
    },
  },
  {
    id: "kitchen", title: "The kitchen",
    fields: [choice("yeast", "Yeast", ["fresh", "instant", "active-dry"]), number("room_c", "Room", "c", 0.5), number("flour_c", "Flour", "c", 0.5),
      number("tap_c", "Tap water", "c", 0.5), number("scale_step_g", "The scale's step", "little", 0.1, 0.1), choice("degrees", "Degrees", ["°C", "°F"]), choice("masses", "Masses", ["g", "oz"])],
    answer: () => ({ large: `${degrees(state.room_c)} room, ${spoken(state.yeast)} yeast` }),
  },
];
const spoken = (choice) => choice.replace("-", " ");
/** Cautions, and what was assumed, which is shown on request. */
function said({ warnings, notes }) {
  return { warnings: warnings.map(({ text }) => text), notes: notes.map(({ text }) => text) };
}

function element(tag, properties, ...children) {
  const made = Object.assign(document.createElement(tag), properties);
  made.append(...children.filter((child) => child != null));
  return made;
}
const button = (text, onclick) => element("button", { type: "button", onclick }, text);

function fieldOf(question, field) {
  const id = `${question.id}-${field.key}`;
  const change = (value) => {
    state[field.key] = value;
    if (field.key === "first_out") state.date = nextDate();
    if (question.id === "changed") state.measures = true;
    show();
  };
  if (field.choices) {
    const options = field.choices.map((value) => {
      const input = element("input", { type: "radio", name: id, value, onchange: () => change(value) });
      refreshes.push(() => (input.checked = state[field.key] === value));
      return element("label", {}, input, spoken(value));
    });
    const group = element("span", { className: "choice", role: "radiogroup", ariaLabel: field.label }, ...options);
    return element("div", { className: "field" }, element("span", {}, field.label), group);
  }
  const label = element("label", { htmlFor: id }, field.label);
  if (field.hour) {
    const input = element("input", { type: "time", id, onchange: () => change(input.value) });
    refreshes.push(() => (input.value = state[field.key]));
    return element("div", { className: "field" }, label, input);
  }
  const own = () => unit(field.of);
  const set = (shown) => (Number.isFinite(shown) ? change(Math.max(field.least, Number(own().from(shown).toFixed(4)))) : show());
  const input = element("input", { id, inputMode: field.of === "h" ? "text" : "decimal", onchange: () => set(own().read(input.value.replace(",", "."))) });
  // To the next whole step: from 69.8 °F to 70.
  const step = (way) => {
    const size = own().step ?? field.step;
    set(size * (way * Math.floor((way * own().to(state[field.key])) / size + 1.001)));
  };
  const mark = element("span", {});
  const less = Object.assign(button("−", () => step(-1)), { ariaLabel: `${field.label}: less` });
  const more = Object.assign(button("+", () => step(1)), { ariaLabel: `${field.label}: more` });
  const whole = element("div", { className: "field" }, label, element("span", {}, less, input, mark, more));
  refreshes.push(() => {
    input.value = own().show(own().to(state[field.key]));
    mark.textContent = own().mark;
    whole.hidden = !field.isAsked();
  });
  return whole;
}

// The day: a line a step, ticked off when done.
const list = element("ol", {});
function line(step) {
  const done = element("input", { type: "checkbox", checked: state.done.includes(step.key) });
  done.onchange = () => {
    state.done = done.checked ? [...state.done, step.key] : state.done.filter((key) => key !== step.key);
    show();
  };
  const amounts = step.amounts.map(({ name, mass_g, pour_c }) => `${mass(mass_g)} ${name}${pour_c == null ? "" : ` at ${poured(pour_c)}`}`);
  const more = [amounts.join(", "), step.look_for && `Look for: ${translated(step.look_for)}`].filter(Boolean).map((text) => element("small", {}, text));
  const other = step.start.slice(0, 10) === state.date ? "" : new Date(step.start).toLocaleDateString("en", { weekday: "long" });
  const time = element("time", { dateTime: step.start }, step.start.slice(11, 16));
  return element("li", {}, element("label", {}, done, element("span", {}, time, element("small", {}, other)), element("span", {}, step.text, ...more)));
}

/** The steps with their alarms, for the calendar of the phone (RFC 5545). */
function calendar() {
  const utc = (time) => new Date(time).toISOString().replace(/[-:]|\.\d+/g, "");
  const text = (words) => words.replace(/[\\;,]/g, "\\$&");
  const { steps: all, name } = steps();
  const events = all.filter((step) => step.alarm).flatMap((step) => [
    "BEGIN:VEVENT", `UID:${state.date}-${step.key}@pointage`, `DTSTAMP:${utc(all[0].start)}`, `DTSTART:${utc(step.start)}`, "DURATION:PT5M",
    `SUMMARY:${text(step.text)}`, `DESCRIPTION:${text(step.look_for ? translated(step.look_for) : name)}`,
    "BEGIN:VALARM", "ACTION:DISPLAY", `DESCRIPTION:${text(step.text)}`, "TRIGGER:PT0S", "END:VALARM", "END:VEVENT",
  ]);
  const lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//pointage//page//EN", ...events, "END:VCALENDAR"];
  return lines.map((whole) => `${whole.match(/.{1,70}/gu).join("\r\n ")}\r\n`).join("");
}

function give(name, type, text) {
  const href = URL.createObjectURL(new Blob([text], { type }));
  element("a", { href, download: name }).click();
  URL.revokeObjectURL(href);
}

const file = element("input", { type: "file", accept: ".toml,text/*", hidden: true, ariaLabel: "A bake's file" });
const bake = element("textarea", { ariaLabel: "The bake's file", spellcheck: false, onchange: () => newBake(bake.value) });
file.onchange = async () => newBake(await file.files[0].text());
function newBake(text) {
  Object.assign(state, { bake: text, measured: [], done: [], date: nextDate() });
  show();
}
function changed(change) {
  return () => {
    try {
      Object.assign(state, change());
    } catch (error) {
      refused = error;
    }
    show();
    refused = null;
  };
}
/** The log with the row, which the library checks as it reads a log. */
function logged() {
  if (JSON.stringify(state.log.at(-1)) === JSON.stringify(row())) throw { message: "This stands in the log already." };
  library.learn({ rows: [row()] });
  return { log: [...state.log, row()] };
}
const csv = () => [Object.keys(row()), ...state.log.map(Object.values)].map((cells) => `${cells.join(",")}\n`).join("");
const row_of = (...buttons) => element("div", { className: "row" }, ...buttons);
const afresh = button("Start afresh", changed(() => ({ measured: [], done: [], date: nextDate() })));
const take = (keeps) => changed(() => ({ measured: measured(), keeps }));
const [keep, move] = [button("Keep the oven's hour", take(true)), button("Move it", take(false))];
const undo = button("Remove the last entry", changed(() => ({ log: state.log.slice(0, -1) })));
refreshes.push(() => {
  afresh.hidden = !(state.measured.length || state.done.length);
  undo.hidden = !state.log.length;
});
const UNDER = {
  day: () => [
    row_of(button("Print", () => print()), button("Alarms", () => give("bake.ics", "text/calendar", calendar())), button("Open a bake", () => file.click()),
      button("Save the bake", () => give("bake.toml", "text/plain", state.bake)), afresh, file),
    list,
    bake,
  ],
  changed: () => [row_of(keep, move)],
  log: () => [row_of(button("Write it down", changed(logged)), button("Save the log", () => give("log.csv", "text/csv", csv())), undo)],
};

/** The name that a field of a request has on the page. */
function named(key) {
  const fields = QUESTIONS.flatMap((question) => question.fields);
  return fields.find((field) => field.key === key || field.key === { water_mass_g: "mix_water_g", temperature_c: "at_c" }[key])?.label;
}
function refusal({ field, message }) {
  const label = named(field);
  return translated(label && message.startsWith(`${field}: `) ? message.replace(field, label) : message);
}
const paragraphs = (texts) => texts.filter(Boolean).map((text) => element("p", {}, translated(text)));

document.querySelector("main").replaceChildren();
for (const question of QUESTIONS) {
  const [brief, answer] = [element("span", {}), element("output", {})];
  const why = element("details", { className: "reasons" }, element("summary", {}, "What this assumes"));
  const fields = question.fields.map((field) => fieldOf(question, field));
  const under = UNDER[question.id]?.() ?? [];
  const summary = element("summary", {}, element("b", {}, question.title), brief);
  const whole = element("details", { id: question.id, name: "question" }, summary, answer, why, ...fields, ...under);
  // The question before it closes, and this one must not leave the screen with it.
  whole.ontoggle = () => whole.open && whole.scrollIntoView();
  document.querySelector("main").append(whole);
  answers.push(() => {
    try {
      const { large, name, lines = [], warnings = [], notes = [], ...rest } = question.answer();
      const titled = name ? [element("p", { className: "name" }, name)] : [];
      answer.replaceChildren(element("p", { className: "large" }, translated(large)), ...titled, ...paragraphs([...lines, ...warnings]));
      why.replaceChildren(why.firstChild, ...paragraphs(notes));
      why.hidden = !notes.length;
      brief.textContent = rest.brief ?? (large.length < 32 ? large : "");
    } catch (error) {
      // A stale answer beside an error would be taken for its answer.
      answer.replaceChildren(element("p", { className: "wrong", role: "alert" }, refusal(error)));
      why.hidden = true;
      brief.textContent = "?";
    }
  });
}
function show() {
  try {
    localStorage.setItem("pointage", JSON.stringify(state));
  } catch {
    // A browser that keeps nothing still answers.
  }
  for (const refresh of [...refreshes, ...answers]) refresh();
}
refreshes.push(() => (bake.value = state.bake));
for (const refresh of refreshes) refresh();
// The first answer is there before the others are asked for.
for (const answer of answers) {
  answer();
  performance.mark("answer");
  await new Promise((next) => setTimeout(next));
}
