const strips = new WeakMap();

function make(root, component) {
  const part = (selector) => root.querySelector(selector);
  const range = part(".dial input"), value = part(".value"), day = part(".day input"), told = part(".told");
  let data = null, sent = 0;

  function choices(place, name, options, chosen) {
    place.replaceChildren(...options.map(([word, text]) => {
      const label = document.createElement("label"), input = document.createElement("input");
      Object.assign(input, { type: "radio", name: name, value: word, checked: word === chosen });
      input.addEventListener("change", () => { moved(); send(); });
      label.append(input, text);
      return label;
    }));
  }
  const chosen = (name) => part(`input[name=${name}]:checked`)?.value;

  function say(now) {
    const text = (steps) => shown(steps, data.decimals);
    const change = now - data.stands;
    const sign = change > 0 ? "+" : "−";
    told.textContent = change === 0 && !data.supposed
      ? `now ${text(now)} ${data.unit}`
      : `now ${text(now)} · as it stands ${text(data.stands)} · ${change ? sign + text(Math.abs(change)) : "0"} ${data.unit}`;
  }
  function moved() {
    value.textContent = shown(Math.round(Number(range.value) * 10 ** data.dial_decimals), data.dial_decimals);
    range.setAttribute("aria-valuetext", `${value.textContent} ${data.dial?.unit ?? ""}`);
    const found = atDial(data.table, chosen("trees"), Number(range.value));
    if (found !== null) {
      say(found.lifted);
      tell("dial", found);
    }
  }
  function send() {
    sent += 1;
    component.setStateValue("view", {
      sent, dial: data.dial ? Number(range.value) : null, trees: chosen("trees"), day: day.value, day_given: data.day ?? "", units: chosen("units"),
    });
  }
  range.addEventListener("input", moved);
  range.addEventListener("change", send);
  day.addEventListener("change", () => { if (day.value === "" || day.validity.valid) send(); });
  part(".put").addEventListener("click", () => component.setTriggerValue("act", "put"));
  part(".back").addEventListener("click", () => component.setTriggerValue("act", "back"));

  function take(given) {
    if (given.sent < sent) return;  // an answer to an earlier move
    sent = given.sent;
    data = given;
    part(".dial").hidden = data.dial === null;
    if (data.dial !== null) {
      part(".before").textContent = data.dial.label;
      part(".after").textContent = data.dial.unit;
      Object.assign(range, { min: data.dial.least, max: data.dial.most, step: data.dial.step });
      range.value = data.dial.value;
      value.textContent = shown(Math.round(data.dial.value * 10 ** data.dial_decimals), data.dial_decimals);
      range.setAttribute("aria-valuetext", `${value.textContent} ${data.dial.unit}`);
    }
    choices(part(".trees"), "trees", data.trees, data.trees_now);
    part(".choice").hidden = data.trees.length < 2;
    choices(part(".units"), "units", [["us", "US"], ["si", "metric"]], data.system);
    Object.assign(day, { min: data.first, max: data.last });
    part(".day").hidden = data.day === null;
    day.value = data.day ?? "";
    part(".acts").hidden = !data.supposed;
    say(data.now);
  }
  return { take };
}

export default function (component) {
  const root = component.parentElement.querySelector(".strip");
  if (!strips.has(root)) strips.set(root, make(root, component));
  strips.get(root).take(component.data);
}
