const fronts = new WeakMap();
const DAY_MS = 86400000;

function make(root, component) {
  const part = (selector) => root.querySelector(selector);
  const calendar = part(".calendar"), narrow = window.matchMedia("(max-width: 640px)");
  let data = null, figures = null, cells = [], picked = 0;

  const text = (steps) => shown(steps, data.decimals);
  const date = (place) => new Date(Date.parse(data.first) + place * DAY_MS);
  const named = (place) => date(place).toLocaleDateString("en-GB", { day: "numeric", month: "long", timeZone: "UTC" });

  function draw(now) {
    figures = now;
    const cost = now.whole - now.lifted;
    part(".cost").textContent = text(cost);
    const percent = now.whole > 0 ? (100 * cost) / now.whole : 0;
    part(".of").textContent = `${data.unit}, ${percent.toFixed(Math.abs(percent) < 10 ? 1 : 0)} % of ${text(now.whole)}`;
    const worth = data.worth_per_step === null ? "" : Math.round(cost * data.worth_per_step);
    part(".worth").textContent =
      data.worth_per_step === null ? "" : `${data.currency}${worth.toLocaleString("en-US")} a year at ${data.price}`;
    part(".worth").hidden = data.worth_per_step === null;
    const names = [["lifted", "lifted"], ["late", data.late_word], ["trees", "trees"]];
    const wide = Math.max(now.lifted, 0) + Math.max(now.late, 0) + Math.max(now.trees, 0);
    for (const [name, word] of names) {
      part(`.bar .${name}`).style.flexBasis = wide > 0 ? `calc(${(100 * Math.max(now[name], 0)) / wide}% - 1.4px)` : "0";
      const gains = name !== "lifted" && now[name] < 0 ? " gained" : "";
      const line = part(`.legend .${name}`);
      line.textContent = `${text(Math.abs(now[name]))}${gains} ${word}`;
      line.hidden = name === "trees" && !data.has_trees;
    }
    part(".bar").setAttribute("aria-label", names.map(([name, word]) => `${text(now[name])} ${word}`).join(", ") + ` ${data.unit}`);
    part(".whole").textContent = `The whole bar: ${text(now.whole)} ${data.unit} on a rack that follows the sun${data.had_trees ? ", in the open" : ""}.`;
    wins(now);
    days(now.lost);
  }

  function wins(now) {
    const rows = [];
    if (now.repair !== null) rows.push([data.repair_word, now.repair]);
    if (hub.best?.key === data.best_tree_of && !now.moved) rows.push([hub.best.word, hub.best.gain]);
    if (now.open !== null && data.has_trees) rows.push([data.all_word, now.open]);
    const most = Math.max(1, ...rows.map(([, gain]) => gain));
    part(".wins tbody").replaceChildren(...rows.map(([word, gain]) => {
      const row = document.createElement("tr"), name = document.createElement("th");
      const how = document.createElement("td"), number = document.createElement("td"), line = document.createElement("i");
      name.scope = "row";
      name.textContent = word;
      how.className = "how";
      line.style.width = `${(100 * Math.max(gain, 0)) / most}%`;
      how.append(line);
      number.className = "gain";
      number.textContent = gain < 0 ? `−${text(-gain)}` : `+${text(gain)}`;
      row.append(name, how, number);
      return row;
    }));
    part(".won").textContent = `What can be won back, ${data.unit}`;
    part(".winnote").textContent = data.win_note;
  }

  // On a wide screen weeks stand side by side, on a narrow one months below each other.
  function lay() {
    calendar.replaceChildren();
    cells = data.dull.map((dull, place) => {
      const cell = document.createElement("b"), at = date(place);
      if (dull) cell.className = "dull";
      cell.dataset.place = place;
      if (narrow.matches) {
        cell.style.gridArea = `${at.getUTCMonth() + 1} / ${at.getUTCDate() + 1}`;
      } else {
        const before = (date(0).getUTCDay() + 6) % 7;
        cell.style.gridArea = `${((at.getUTCDay() + 6) % 7) + 1} / ${Math.floor((place + before) / 7) + 1}`;
      }
      return cell;
    });
    const heads = [];
    for (let place = 0; place < cells.length; place += 1) {
      if (date(place).getUTCDate() !== 1 && place > 0) continue;
      const head = document.createElement("span"), month = date(place).toLocaleDateString("en-US", { month: "short", timeZone: "UTC" });
      head.textContent = narrow.matches ? month[0] : month;
      const [row, column] = cells[place].style.gridArea.split("/").map((word) => word.trim());
      head.style.gridArea = narrow.matches ? `${row} / 1` : `8 / ${column}`;
      heads.push(head);
    }
    calendar.style.gridTemplateColumns = narrow.matches ? "1.1rem repeat(31, minmax(0, 1fr))" : "repeat(53, minmax(0, 1fr))";
    calendar.append(...cells, ...heads);
  }
  function days(lost) {
    for (const [place, cell] of cells.entries()) {
      cell.style.setProperty("--share", `${Math.round(100 * Math.min(Math.max(lost[place] / Math.max(data.most_lost, 1), 0), 1))}%`);
    }
    pick(picked);
  }
  function pick(place) {
    cells[picked]?.classList.remove("picked");
    picked = Math.min(Math.max(place, 0), cells.length - 1);
    cells[picked].classList.add("picked");
    const told = `${named(picked)}: ${text(figures.lost[picked])} ${data.day_unit} ${data.lost_words}${data.dull[picked] ? ", a dull day" : ""}`;
    part(".daynote").textContent = told;
    for (const [name, value] of [["valuemin", 1], ["valuemax", cells.length], ["valuenow", picked + 1], ["valuetext", told]]) {
      calendar.setAttribute(`aria-${name}`, value);
    }
  }
  function open() {
    component.setTriggerValue("morning", date(picked).toISOString().slice(0, 10));
  }
  calendar.addEventListener("click", (event) => {
    const cell = event.target.closest("[data-place]");
    if (cell === null) return;
    pick(Number(cell.dataset.place));
    open();
  });
  calendar.addEventListener("pointerover", (event) => {
    const cell = event.target.closest("[data-place]");
    if (cell !== null && event.pointerType === "mouse") pick(Number(cell.dataset.place));
  });
  calendar.addEventListener("keydown", (event) => {
    const across = narrow.matches ? [1, 30] : [7, 1];
    const by = { ArrowRight: across[0], ArrowLeft: -across[0], ArrowDown: across[1], ArrowUp: -across[1], Home: -999, End: 999 }[event.key];
    if (event.key === "Enter" || event.key === " ") open();
    else if (by !== undefined) pick(picked + by);
    else return;
    event.preventDefault();
  });
  narrow.addEventListener("change", () => { lay(); days(figures.lost); });
  hear(root, "dial", (found) => draw({ ...found, moved: true }));
  hear(root, "table", () => { if (figures !== null) wins(figures); });

  function take(given) {
    const anew = data === null || data.first !== given.first || data.dull.length !== given.dull.length
      || data.dull.some((dull, place) => dull !== given.dull[place]);
    // The day of the strip is the one that is named here; what a pointer passed over stays until that changes.
    const moved = data !== null && data.picked !== given.picked;
    data = given;
    if (anew) lay();
    if (anew || moved) {
      cells[picked]?.classList.remove("picked");
      picked = data.picked;
    }
    part(".key").textContent = data.key_words;
    draw(data.now);
  }
  return { take };
}

export default function (component) {
  const root = component.parentElement.querySelector(".front");
  if (!fronts.has(root)) fronts.set(root, make(root, component));
  fronts.get(root).take(component.data);
}
