// The form of a troop's week. Comes in: what is kept and what the form asks for (week_form.py). Goes out: every value
// as it is typed, to the address of the week; and `look`, once all is kept and somebody wants it looked over.
//
// kept: what the server holds. typed: what this device has not been told is kept; it also lies in the device's own
// storage. others: values typed here that were not kept, since another device had put something else. A field shows what
// is kept, unless it is marked.

const NEXT_TRY = 3000, LOOKS_EVERY = 4000, LONGEST = 10000, PAUSE = 400, AT_ONCE = 50;
const BOTH = JSON.stringify;
const OWN_CONTROL = { signed: "numeric", whole: "numeric", money: "decimal" };

export default function ({ data, parentElement, setTriggerValue }) {
  const root = parentElement.querySelector(".week");
  if (root.form && root.form.address !== data.address) root.form.end();
  if (!root.form || root.form.isOver) root.form = new Form(root, data);
  root.form.tell = setTriggerValue;
  root.form.describe(data);
  return () => root.form.end();
}

class Form {
  constructor(root, data) {
    this.root = root;
    this.address = data.address;
    this.kept = { version: -1, cover: {}, sheets: {} };
    this.typed = new Map();
    this.others = new Map();
    this.gone = new Set(); // entries taken away here
    this.rows = {}; // of each sheet the rows shown, also those in which nothing stands yet
    this.fields = new Map(); // of the part shown
    this.chosen = {}; // of each sheet of which one row is shown, which one
    this.problem = "";
    this.part = data.part || (data.who ? "families" : "stock");
    this.chosen[this.part] = data.who || undefined;
    this.recall();
    this.untold = new Map(); // what the page around the form has not heard of yet: its own connection may be away
    this.timers = [setInterval(() => { this.catchUp(); this.tellAgain(); }, NEXT_TRY), setInterval(() => this.look(), LOOKS_EVERY)];
    this.wake = () => { this.catchUp(); this.look(); };
    this.leave = () => this.flush();
    for (const [what, on] of [["online", window], ["focus", window], ["visibilitychange", document]])
      on.addEventListener(what, this.wake);
    window.addEventListener("pagehide", this.leave);
  }

  end() {
    this.isOver = true;
    this.timers.forEach(clearInterval);
    clearTimeout(this.soon);
    for (const [what, on] of [["online", window], ["focus", window], ["visibilitychange", document]])
      on.removeEventListener(what, this.wake);
    window.removeEventListener("pagehide", this.leave);
    this.root.replaceChildren();
  }

  describe(data) {
    this.form = data.form;
    this.shown = { isKept: data.kept.isKept, looked: data.looked };
    if (data.kept.version >= this.kept.version) this.untold.delete("moved");
    if (data.heard === this.untold.get("look")?.value) this.untold.delete("look");
    if (!this.frame) this.build();
    if (!this.adopt(data.kept)) this.draw();
    this.tellIfMoved();
    this.catchUp();
  }

  // values

  stands(sheet, row, column) {
    const cells = sheet === "cover" ? this.kept.cover : (this.kept.sheets[sheet] || {})[row] || {};
    return cells[column] || "";
  }

  value(sheet, row, column) {
    const pending = this.typed.get(BOTH([sheet, row, column]));
    return pending ? pending.now : this.stands(sheet, row, column);
  }

  put(sheet, row, column, now) {
    const key = BOTH([sheet, row, column]);
    const before = this.typed.get(key);
    const was = before ? before.was : this.stands(sheet, row, column);
    this.typed.set(key, { was, now, at: Date.now(), tried: before ? before.tried : [] });
    this.store(key, this.typed.get(key));
    this.problem = "";
    this.paint();
    clearTimeout(this.soon);
    this.soon = setTimeout(() => this.flush(), PAUSE);
  }

  names(sheet) {
    const kept = Object.keys(this.kept.sheets[sheet] || {});
    const pending = [...this.typed.keys()].map(JSON.parse).filter((of) => of[0] === sheet).map((of) => of[1]);
    const listed = new Set([...kept, ...(this.rows[sheet] || []), ...pending]);
    return [...listed].filter((row) => !this.gone.has(BOTH([sheet, row])));
  }

  // what this device keeps by itself until it is told that the server has it

  store(key, pending) {
    try {
      const name = `musterbook ${this.address} ${key}`;
      if (pending) localStorage.setItem(name, BOTH(pending));
      else localStorage.removeItem(name);
    } catch { /* a device without storage keeps it as long as the page is open */ }
  }

  recall() {
    try {
      const start = `musterbook ${this.address} `;
      for (const name of Object.keys(localStorage).filter((one) => one.startsWith(start))) {
        const pending = JSON.parse(localStorage.getItem(name));
        (pending.isOther ? this.others : this.typed).set(name.slice(start.length), pending);
      }
    } catch { /* nothing is recalled */ }
  }

  // the server

  async ask(query, changes) {
    const how = { headers: { accept: "application/json" }, signal: AbortSignal.timeout(LONGEST), cache: "no-store" };
    if (changes) Object.assign(how, { method: "POST", body: BOTH(changes), keepalive: true });
    let answer;
    try {
      answer = await fetch(this.address + query, how);
      if (answer.ok) {
        const told = await answer.json();
        this.isLost = false;
        this.problem = "";
        return told;
      }
    } catch {
      this.isLost = true;
      return null;
    }
    this.isLost = false;
    if (answer.status === 401) this.problem = "You are signed out. Sign in again: what you typed waits on this device.";
    else if (answer.status === 429 || answer.status >= 500) this.isLost = true;
    else this.problem = (await answer.text()) || "This cannot be kept.";
    return null;
  }

  // Sends what is not kept yet, until all is; whoever calls meanwhile waits for the same.
  flush() {
    if (!this.sending) this.sending = this.send().finally(() => { this.sending = null; if (!this.isOver) this.paint(); });
    return this.sending;
  }

  async send() {
    while (this.typed.size && !this.isOver) {
      const sent = [...this.typed].slice(0, AT_ONCE);
      const told = await this.ask("", sent.map(([key, one]) => [...JSON.parse(key), one.was, one.now]));
      if (!told) {
        for (const [, one] of sent) one.tried = [...(one.tried || []), one.now]; // it may have arrived all the same
        return;
      }
      const others = new Map(told.others.map((of) => [BOTH(of.slice(0, 3)), of]));
      for (const [key, one] of sent) {
        const other = others.get(key), pending = this.typed.get(key);
        if (pending && pending.now !== one.now) { // typed on meanwhile
          if (!other) pending.was = one.now;
          this.store(key, pending);
          continue;
        }
        if (other && pending && (one.tried || []).includes(other[3])) { // what is kept came from here
          pending.was = other[3];
          continue;
        }
        this.typed.delete(key);
        if (other) this.others.set(key, { now: one.now, isOther: true });
        else this.others.delete(key);
        this.store(key, this.others.get(key));
      }
      this.adopt(told);
    }
  }

  catchUp() {
    if (this.typed.size && !this.isOver) this.flush();
  }

  async look() {
    if (document.hidden || this.sending || this.isOver) return;
    const told = await this.ask(`&version=${this.kept.version}`);
    if (this.isOver) return;
    if (told && told.sheets) this.adopt(told);
    this.paint();
  }

  // Takes over what is kept, unless it is older than what is known here.
  adopt(kept) {
    if (kept.version < this.kept.version) return false;
    this.kept = kept;
    for (const of of [...this.gone].map(JSON.parse)) { // not all of it went: another device had put something else
      const waits = [...this.typed.keys()].some((key) => BOTH(JSON.parse(key).slice(0, 2)) === BOTH(of));
      if (!waits && (kept.sheets[of[0]] || {})[of[1]]) this.gone.delete(BOTH(of));
    }
    this.draw();
    this.tellIfMoved();
    return true;
  }

  // The page around the form says whether a draft is kept, and shows what was looked over: it learns of what is newer.
  tellIfMoved() {
    const { isKept, looked } = this.shown;
    if (this.kept.isKept === isKept && (looked === null || this.kept.version === looked)) return;
    this.shown = { isKept: this.kept.isKept, looked: null };
    this.tellPage("moved", this.kept.version);
  }

  tellPage(what, value) {
    this.untold.set(what, { value, pause: LONGEST, next: Date.now() + LONGEST });
    this.tell(what, value);
  }

  // Each time after a longer pause: telling again breaks off what is being done about it.
  tellAgain() {
    for (const [what, one] of this.untold) {
      if (Date.now() < one.next) continue;
      one.pause *= 2;
      one.next = Date.now() + one.pause;
      this.tell(what, one.value);
    }
  }

  async lookOver() {
    await this.flush();
    if (this.typed.size) this.say(`Not looked over: ${this.state()}`);
    else this.tellPage("look", `${this.kept.version} ${Date.now()}`);
  }

  // the page

  state() {
    const many = this.typed.size === 1 ? "1 value is" : `${this.typed.size} values are`;
    if (this.problem) return this.problem;
    if (this.typed.size && this.isLost)
      return `No connection: ${many} not kept yet. They stay on this device and are kept as soon as it is back.`;
    if (this.isLost) return "No connection. What you type stays on this device and is kept as soon as it is back.";
    if (this.typed.size) return "Being kept …"; // for a moment
    if (this.kept.isKept)
      return "Everything that you typed is kept, on every device where you sign in, until you send it.";
    return "What you type is kept at once.";
  }

  say(text) {
    if (this.told.textContent !== text) this.told.textContent = text;
  }

  build() {
    this.frame = true;
    this.told = make("p", { className: "told", role: "status" });
    this.list = make("div", { className: "others" });
    this.choice = make("fieldset", { className: "parts" }, make("legend", { textContent: "What to fill in" }));
    for (const { sheet, name } of this.form.parts) {
      const input = make("input", { type: "radio", name: "part", value: sheet, checked: sheet === this.part });
      input.onchange = () => { this.part = sheet; this.draw(true); };
      this.choice.append(make("label", {}, input, make("span", { textContent: name })));
    }
    this.body = make("div", { className: "body" });
    const button = make("button", { type: "button", className: "main", textContent: "Look it over" });
    button.onclick = () => this.lookOver();
    this.root.replaceChildren(this.list, this.choice, this.body, this.told, button);
  }

  // Draws the part chosen; only where other rows than before are to be shown, so that nobody loses the field they are in.
  draw(always) {
    const part = this.form.parts.find((one) => one.sheet === this.part);
    const rows = part.sheet === "cover" ? [""] : this.names(part.sheet);
    const drawn = BOTH([part, rows, this.chosen[part.sheet]]);
    if (always || drawn !== this.drawn) {
      this.drawn = drawn;
      const at = this.root.getRootNode().activeElement;
      this.fields.clear();
      this.after = [];
      const told = part.told ? [make("p", { className: "quiet", textContent: part.told })] : [];
      this.body.replaceChildren(...told, ...this.drawPart(part, rows));
      if (at && at.id) this.root.querySelector(`#${CSS.escape(at.id)}`)?.focus();
    }
    this.paint();
  }

  drawPart(part, rows) {
    if (part.sheet === "stock") return rows.map((row) => this.drawItem(part, row));
    if (part.sheet === "cover") return [make("div", { className: "card" }, ...this.drawFields(part, ""))];
    if (part.adds) return this.drawEntries(part, rows);
    return this.drawPeople(part, part.sheet === "families" ? rows : rows.concat(this.names("families")));
  }

  drawItem(part, row) {
    const expected = make("p", { className: "beside", id: `expected-${row}` });
    this.after.push(() => { expected.textContent = this.expectedSaid(row); });
    const [received, damaged, counted] = this.drawFields(part, row, `, ${row}`);
    counted.querySelector("input").setAttribute("aria-describedby", expected.id);
    const title = make("h3", { textContent: `${part.titles[row] || row} (${row})` });
    return make("div", { className: "card" }, title, counted, expected, make("div", { className: "pair" }, received, damaged));
  }

  drawEntries(part, rows) {
    const what = part.adds.replace("a ", "");
    const cards = rows.map((row, place) => {
      const away = make("button", { type: "button", textContent: `Take ${what} ${place + 1} away` });
      away.onclick = () => this.takeAway(part, row, what);
      return make("div", { className: "card" }, make("h3", { textContent: `${what[0].toUpperCase()}${what.slice(1)} ${place + 1}` }),
        ...this.drawFields(part, row, "", place + 1), away);
    });
    const add = make("button", { type: "button", textContent: `Add ${part.adds}` });
    add.onclick = () => {
      const row = `new ${Date.now().toString(36)}${Math.random().toString(36).slice(2, 6)}`;
      this.rows[part.sheet] = [...(this.rows[part.sheet] || []), row];
      this.draw(true);
      [...this.fields.values()].at(-part.columns.length)?.input.focus();
    };
    return [...cards, ...(this.undo && this.undo.sheet === part.sheet ? [this.drawUndo()] : []), add];
  }

  takeAway(part, row, what) {
    const cells = part.columns.map(({ name }) => [name, this.value(part.sheet, row, name)]).filter((of) => of[1]);
    this.gone.add(BOTH([part.sheet, row]));
    this.undo = cells.length ? { sheet: part.sheet, row, cells, what } : null;
    for (const [name] of cells) this.put(part.sheet, row, name, "");
    this.draw(true);
  }

  drawUndo() {
    const { sheet, row, cells, what } = this.undo;
    const back = make("button", { type: "button", textContent: `Put the ${what} back` });
    back.onclick = () => {
      this.gone.delete(BOTH([sheet, row]));
      this.undo = null;
      for (const [name, value] of cells) this.put(sheet, row, name, value);
      this.draw(true);
    };
    return back;
  }

  drawPeople(part, listed) {
    const isPerson = ["promised", "awards"].includes(part.sheet); // the own page promises nothing, and earns nothing
    const rows = [...new Set(listed)].filter((row) => !isPerson || row !== this.form.ownPage);
    const another = this.drawAnother(part);
    if (!rows.length) return [make("p", { textContent: "Nobody is on the roster yet. Add a code below." }), another];
    const row = rows.includes(this.chosen[part.sheet]) ? this.chosen[part.sheet] : rows[0];
    const select = make("select", { id: `chosen-${part.sheet}` });
    for (const one of rows) select.append(make("option", { value: one, selected: one === row }));
    select.onchange = () => this.go(part.sheet, select.value);
    const title = make("h3", { textContent: row, tabIndex: -1 });
    const card = make("div", { className: "card person" }, title);
    if (row === this.form.ownPage)
      card.append(make("p", { className: "quiet", textContent: part.sheet === "goals" ? "The goal of the whole troop." :
        "Packages set aside for orders on the troop's own page." }));
    if (part.sheet === "families") {
      const owed = make("p", { className: "beside" });
      this.after.push(() => { owed.textContent = this.owedSaid(row); });
      card.append(owed);
    }
    card.append(...this.drawFields(part, row));
    if (part.sheet === "families") card.append(this.drawPayment(row));
    const next = rows[(rows.indexOf(row) + 1) % rows.length];
    const onward = make("button", { type: "button", textContent: `Next: ${next}` });
    onward.onclick = () => this.go(part.sheet, next, true);
    const done = make("p", { className: "quiet" });
    this.after.push(() => {
      const isFilled = (one) => part.columns.some(({ name }) => this.value(part.sheet, one, name));
      for (const option of select.options) option.textContent = option.value + (isFilled(option.value) ? " ✓" : "");
      done.textContent = `${rows.filter(isFilled).length} of ${rows.length} filled in.`;
    });
    return [make("label", { htmlFor: select.id, textContent: "Participant" }), select, card, onward, done, another];
  }

  go(sheet, row, goesUp) {
    this.chosen[sheet] = row;
    this.draw(true);
    if (!goesUp) return;
    const title = this.body.querySelector(".person h3");
    title.focus({ preventScroll: true });
    title.scrollIntoView({ block: "start" });
  }

  drawAnother(part) {
    const input = make("input", { id: "another", maxLength: 40, autocomplete: "off", autocapitalize: "none" });
    const add = make("button", { type: "button", textContent: "Add" });
    add.onclick = () => {
      const code = input.value.trim();
      if (!code) return;
      this.put(part.sheet, code, "participant", code);
      this.go(part.sheet, code, true);
    };
    return make("details", {}, make("summary", { textContent: "Another participant" }),
      make("label", { htmlFor: input.id, textContent: "Code of another participant" }), input, add);
  }

  // One family's payment, added to what it has handed in this week.
  drawPayment(row) {
    const input = make("input", { id: "payment", inputMode: "decimal", maxLength: 12, autocomplete: "off" });
    const told = make("p", { className: "quiet", role: "status" });
    const buttons = [["cash", "Add to cash"], ["card", "Add to card"]].map(([column, text]) => {
      const button = make("button", { type: "button", textContent: text });
      button.onclick = () => {
        const before = cents(this.value("families", row, column) || "0"), more = cents(input.value);
        if (more === null) told.textContent = "Type an amount such as 12.50.";
        else if (before === null) told.textContent = "Mend the amount above first.";
        else {
          this.put("families", row, column, amount(before + more));
          input.value = "";
          told.textContent = `${this.money(more)} added: ${this.money(before + more)} this week.`;
        }
      };
      return button;
    });
    return make("fieldset", { className: "payment" }, make("legend", { textContent: "Handed in just now" }),
      make("label", { htmlFor: input.id, textContent: "Amount handed in just now" }), input,
      make("div", { className: "pair" }, ...buttons), told);
  }

  drawFields(part, row, suffix = "", place = "") {
    return part.columns.map((column) => {
      const key = BOTH([part.sheet, row, column.name]);
      const id = `${part.sheet}-${column.name}-${row}`.replace(/[^\w-]/g, (one) => `_${one.charCodeAt(0)}`);
      const input = control(column, this.value(part.sheet, row, column.name));
      input.id = id;
      input.oninput = () => this.put(part.sheet, row, column.name, input.value);
      input.onchange = () => { if (this.typed.has(key)) this.flush(); };
      const mark = make("p", { className: "mark", id: `${id}-mark` });
      const line = make("div", { className: "line" }, input);
      if (column.kind === "signed") line.append(this.turn(column, input));
      this.fields.set(key, { input, mark, of: [part.sheet, row, column.name] });
      return make("div", { className: "field" },
        make("label", { htmlFor: id, textContent: `${column.label}${suffix}` }), line, mark);
    });
  }

  // A phone's number keys have no minus.
  turn(column, input) {
    const button = make("button", { type: "button", className: "turn", textContent: "±" });
    button.setAttribute("aria-label", `Taken or brought back: ${column.label}`);
    button.onclick = () => {
      if (!input.value) return;
      input.value = input.value.startsWith("-") ? input.value.slice(1) : `-${input.value}`;
      input.oninput();
    };
    return button;
  }

  // Shows in every field what stands there, and marks what is not kept.
  paint() {
    if (this.isOver || !this.body) return;
    for (const [key, { input, mark, of }] of this.fields) {
      const value = this.value(...of), pending = this.typed.get(key);
      if (input.value !== value) show(input, value);
      const isLate = pending && (this.isLost || this.problem || Date.now() - pending.at > NEXT_TRY);
      mark.textContent = isLate ? "Not kept yet" : "";
    }
    this.after.forEach((paint) => paint());
    this.paintOthers();
    const isLate = Boolean(this.isLost || this.problem);
    this.told.classList.toggle("late", isLate);
    this.told.setAttribute("aria-live", isLate ? "polite" : "off"); // nobody wants to hear of every key
    this.say(this.state());
  }

  paintOthers() {
    const listed = BOTH([...this.others, this.kept.version]);
    if (listed === this.list.listed) return;
    this.list.listed = listed;
    this.list.replaceChildren(...[...this.others].map(([key, { now }]) => {
      const of = JSON.parse(key), stands = this.stands(...of) || "nothing";
      const told = make("p", { role: "alert", textContent:
        `${this.named(of)}: another device has put ${stands} meanwhile, and that is kept. You had typed ${now || "nothing"} here.` });
      const mine = make("button", { type: "button", textContent: `Keep ${now || "nothing"}` });
      const theirs = make("button", { type: "button", textContent: `Leave ${stands}` });
      theirs.onclick = () => { this.others.delete(key); this.store(key); this.paint(); };
      mine.onclick = () => { this.others.delete(key); this.put(...of, now); };
      return make("div", { className: "card" }, told, make("div", { className: "pair" }, mine, theirs));
    }));
  }

  named([sheet, row, column]) {
    const part = this.form.parts.find((one) => one.sheet === sheet);
    const label = (part.columns.find((one) => one.name === column) || { label: column }).label;
    const place = this.names(sheet).indexOf(row) + 1;
    const which = part.adds ? `${place || ""}`.trim() : row;
    return [part.name, which, label].filter(Boolean).join(", ");
  }

  // what is known beside the fields

  sum(sheet, column, counts = () => true) {
    return this.names(sheet).filter(counts)
      .reduce((all, row) => all + (whole(this.value(sheet, row, column), this.form.perCase[column]) || 0), 0);
  }

  moved(code, way) {
    const counts = (row) => this.value("moves", row, "item") === code && this.value("moves", row, "direction") === way;
    return this.names("moves").filter(counts)
      .reduce((all, row) => all + (whole(this.value("moves", row, "packages"), this.form.perCase[code]) || 0), 0);
  }

  expectedSaid(code) {
    const before = this.form.expected[code] || 0;
    const per = this.form.perCase[code], typed = (column) => whole(this.value("stock", code, column), per);
    const came = Math.max(typed("received") || 0, this.form.supplied[code] || 0);
    const out = this.sum("families", code) + this.sum("stalls", code) + (typed("damaged") || 0);
    const should = before + came - out + this.moved(code, "in") - this.moved(code, "out");
    const counted = typed("on_hand");
    const told = `Should be there: ${should}, after what stands in this form.`;
    if (counted === null) return told;
    if (counted === should) return `${told} The count agrees.`;
    return `${told} ${counted < should ? `${should - counted} not accounted for.` : `${counted - should} more than that.`}`;
  }

  owedSaid(row) {
    const before = this.form.owed[row] || 0;
    const worth = Object.entries(this.form.prices)
      .reduce((all, [code, price]) => all + price * (whole(this.value("families", row, code)) || 0), 0);
    const paid = ["cash", "card"].reduce((all, one) => all + (cents(this.value("families", row, one)) || 0), 0);
    const now = before + worth - paid;
    const after = now < 0 ? `${this.money(-now)} paid ahead` : `${this.money(now)} to bring`;
    return `To bring before this week: ${this.money(before)}. After what stands here: ${after}.`;
  }

  money(many) {
    return `${many < 0 ? "-" : ""}${this.form.sign}${amount(Math.abs(many))}`;
  }
}

function make(name, with_, ...children) {
  const { role, ...own } = with_;
  const made = Object.assign(document.createElement(name), own);
  if (role) made.setAttribute("role", role);
  made.append(...children);
  return made;
}

// A field is text, whatever the keys it offers; a day or a choice that cannot be shown as one is shown as text.
function control(column, value) {
  if (column.kind === "choice") {
    const select = make("select", {}, make("option", { value: "", textContent: "Choose" }));
    for (const [code, text] of column.options) select.append(make("option", { value: code, textContent: text }));
    show(select, value);
    return select;
  }
  if (column.kind === "ticks") return ticks(column, value);
  const isDay = column.kind === "day" && /^(\d{4}-\d\d-\d\d)?$/.test(value);
  const input = make("input", { type: isDay ? "date" : "text", maxLength: 300, autocomplete: "off", value });
  if (isDay) Object.assign(input, { min: column.least, max: column.most });
  if (OWN_CONTROL[column.kind]) input.inputMode = OWN_CONTROL[column.kind];
  return input;
}

// Steps to tick, as one field whose value is the numbers of those ticked.
function ticks(column, value) {
  const field = make("div", { className: "ticks", role: "group" });
  field.setAttribute("aria-label", column.label);
  const boxes = Array.from({ length: column.most }, (_, place) => {
    const box = make("input", { type: "checkbox" });
    box.onchange = () => { field.oninput?.(); field.onchange?.(); };
    field.append(make("label", {}, box, make("span", { textContent: place + 1 })));
    return box;
  });
  Object.defineProperty(field, "value", {
    get: () => boxes.flatMap((box, place) => (box.checked ? [place + 1] : [])).join(" "),
    set: (text) => { const done = text.split(/[\s,;]+/).map(Number); boxes.forEach((box, place) => { box.checked = done.includes(place + 1); }); },
  });
  field.value = value;
  return field;
}

function show(input, value) {
  if (input.tagName === "SELECT" && value && ![...input.options].some((one) => one.value === value))
    input.append(make("option", { value, textContent: value }));
  if (input.type === "date" && value && !/^\d{4}-\d\d-\d\d$/.test(value)) input.type = "text";
  input.value = value;
}

// Packages, or full cases and loose ones: 2c+3.
function whole(text, perCase) {
  const found = perCase && /^(\d{1,5}) ?c(?: ?\+ ?(\d{1,6}))?$/i.exec(text.trim());
  if (found) return Number(found[1]) * perCase + Number(found[2] || 0);
  return /^-?\d{1,9}$/.test(text.trim()) ? Number(text) : null;
}

function cents(text) {
  const found = /^(-?)(\d{1,9})(?:\.(\d{1,2}))?$/.exec(text.trim());
  return found ? (found[1] ? -1 : 1) * (Number(found[2]) * 100 + Number((found[3] || "").padEnd(2, "0"))) : null;
}

function amount(many) {
  const text = String(Math.abs(many)).padStart(3, "0");
  return `${many < 0 ? "-" : ""}${text.slice(0, -2)}.${text.slice(-2)}`;
}
