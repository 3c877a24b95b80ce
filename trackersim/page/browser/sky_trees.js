// The sky with the trees in it. It is drawn in the browser's own pixels, so that a finger finds 44 of them on every
// handle. Called again whenever the page hands over data.
const SVG = "http://www.w3.org/2000/svg";
const skies = new WeakMap();
const RESTED_MS = 400, FOOT_DEG = -4, BELOW_DEG = -9, GRIP = 11, HIT = 22, LEAST_WIDE = 240;
// Half the width of a handle with its ring.
const ROOM = GRIP + 4;
const radians = (degrees) => degrees * Math.PI / 180;
const degrees = (angle) => angle * 180 / Math.PI;

function put(parent, name, given, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(given)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  parent.append(made);
  return made;
}

// Lowest and highest sight line to an ellipsoid at `aside` from its middle, as the beam's shade has it; null beside it.
function crownAt(tree, aside) {
  const far = tree.distance_m, wide = tree.half_width_m, low = tree.base_m, high = tree.height_m - tree.eye_m;
  const tall = (high - low) / 2, middle = (high + low) / 2;
  if (far <= wide) return null;
  const outside = (far / wide) ** 2 + (middle / tall) ** 2 - 1, along = Math.cos(aside);
  const a = (middle / tall ** 2) ** 2 - outside / tall ** 2;
  const b = 2 * far * along * middle / (wide * tall) ** 2;
  const c = (far * along / wide ** 2) ** 2 - outside / wide ** 2;
  const root = b * b - 4 * a * c;
  if (root < 0 || along <= 0) return null;
  const ends = [(-b + Math.sqrt(root)) / (2 * a), (-b - Math.sqrt(root)) / (2 * a)].map((t) => degrees(Math.atan(t)));
  return [Math.min(...ends), Math.max(...ends)];
}

function outline(tree) {
  const up = [], down = [];
  const high = tree.height_m - tree.eye_m;
  if (tree.row) {
    const facing = radians(tree.facing_deg ?? tree.bearing_deg);
    const east = tree.distance_m * Math.sin(radians(tree.bearing_deg));
    const north = tree.distance_m * Math.cos(radians(tree.bearing_deg));
    for (let step = -40; step <= 40; step++) {
      const along = tree.half_width_m * step / 40;
      const x = east + along * Math.cos(facing), y = north - along * Math.sin(facing);
      let aside = degrees(Math.atan2(x, y)) - tree.bearing_deg;
      aside -= 360 * Math.round(aside / 360);
      const away = Math.hypot(x, y);
      up.push([tree.bearing_deg + aside, degrees(Math.atan2(high, away))]);
      down.push([tree.bearing_deg + aside, degrees(Math.atan2(tree.base_m, away))]);
    }
  } else {
    const half = Math.asin(Math.min(tree.half_width_m / tree.distance_m, 1));
    for (let step = -40; step <= 40; step++) {
      const aside = half * Math.sin(Math.PI / 2 * step / 40) * 0.9999, ends = crownAt(tree, aside);
      if (!ends) continue;
      up.push([tree.bearing_deg + degrees(aside), ends[1]]);
      down.push([tree.bearing_deg + degrees(aside), ends[0]]);
    }
  }
  return [...up, ...down.reverse()];
}

function make(root) {
  const svg = root.querySelector(".picture"), told = root.querySelector(".told");
  let data = null, tell = null, trees = [], box = null, drawn = [], paths = [];
  let held = null, timer = null;

  const x = (bearing) => box.left + (bearing - data.from_deg) / (data.to_deg - data.from_deg) * box.width;
  const y = (height) => box.top + (data.top_deg - height) / (data.top_deg - BELOW_DEG) * box.height;
  const bearingAt = (px) => data.from_deg + (px - box.left) / box.width * (data.to_deg - data.from_deg);
  const heightAt = (py) => data.top_deg - (py - box.top) / box.height * (data.top_deg - BELOW_DEG);
  const room = ([px, py]) => ({x: px - ROOM, y: py - ROOM, width: 2 * ROOM, height: 2 * ROOM});
  const inside = (value, low, high) => Math.min(Math.max(value, low), high);
  const around = (bearing) => data.from_deg + ((bearing - data.from_deg) % 360 + 360) % 360;
  const point = ([b, h]) => x(b).toFixed(1) + "," + y(inside(h, 0, data.top_deg)).toFixed(1);
  const points = (list) => list.map(point).join(" ");
  const written = (tree) => Math.round((tree.height_m / data.unit_m) * 10) / 10 + " " + data.unit;
  const bearingWords = (tree) => Math.round(((tree.bearing_deg % 360) + 360) % 360 * 10) / 10 + "°";
  const words = (tree) => tree.name + ": " + written(tree) + " high, bearing " + bearingWords(tree);

  function frame() {
    const width = Math.max(root.clientWidth, LEAST_WIDE);
    const height = Math.round(width < 560 ? width * 0.95 : Math.min(width * 0.46, 470));
    svg.setAttribute("viewBox", "0 0 " + width + " " + height);
    svg.style.height = height + "px";
    box = {left: 34, top: 8, width: width - 42, height: height - 32};
  }

  function draw() {
    const focus = svg.querySelector(".handle:focus") ?? svg.getRootNode().activeElement;
    const kept = focus && focus.dataset ? focus.dataset.of : null;
    frame();
    svg.replaceChildren();
    svg.setAttribute("aria-label", data.alt);
    for (const cell of data.cells) {
      const left = x(Math.max(cell.bearing_deg, data.from_deg));
      const right = x(Math.min(cell.bearing_deg + data.bin_deg, data.to_deg));
      const top = y(Math.min(cell.elevation_deg + data.bin_deg, data.top_deg));
      if (right <= left || cell.elevation_deg >= data.top_deg) continue;
      const given = {x: left, y: top, width: right - left, height: y(cell.elevation_deg) - top};
      if (cell.kind < 0) put(svg, "rect", {...given, class: "cell more"});
      else put(svg, "rect", {...given, class: "cell", opacity: [0.2, 0.42, 0.68, 1][cell.kind - 1]});
    }
    if (data.horizon.length) {
      const hill = [[data.from_deg, 0], ...data.horizon, [data.to_deg, 0]];
      put(svg, "polygon", {points: points(hill), class: "hill"});
    }
    paths = data.paths.map((path) => {
      for (const piece of path.pieces) put(svg, "polyline", {points: points(piece), class: "path"});
      for (const [b, h] of path.hours) put(svg, "circle", {cx: x(b), cy: y(h), r: 2, class: "hour"});
      const at = {x: x(path.at[0]), y: y(path.at[1]) - 4, "text-anchor": "middle"};
      return put(svg, "text", at, path.name).getBBox();
    });
    put(svg, "line", {x1: box.left, x2: box.left + box.width, y1: y(0), y2: y(0), class: "frame"});
    const narrow = box.width < 420; // there is room for the compass points alone
    data.ticks.forEach(([b, name]) => {
      if (narrow && name.endsWith("°")) return;
      put(svg, "text", {x: x(b), y: box.top + box.height + 18, "text-anchor": "middle"}, name);
    });
    for (let h = 0; h < data.top_deg; h += 30)
      put(svg, "text", {x: box.left - 5, y: y(h) + 4, "text-anchor": "end"}, h + "°");
    const layers = ["crowns", "leaders", "names", "handles"].map((name) => put(svg, "g", {class: name}));
    drawn = trees.map((tree, n) => drawTree(tree, n, ...layers));
    placeAll();
    if (kept) svg.querySelector('[data-of="' + kept + '"]')?.focus({preventScroll: true});
  }

  function drawTree(tree, n, crowns, leaders, names, handles) {
    const crown = put(crowns, "polygon", {class: "tree" + (tree.bare ? " bare" : "")});
    const leader = put(leaders, "path", {class: "leader"}), name = put(names, "text", {class: "name"}, tree.name);
    // A long name is cut; the handles tell it whole.
    for (let letters = [...tree.name]; name.getComputedTextLength() > box.width * 0.6; letters.pop())
      name.textContent = letters.join("").trimEnd() + "…";
    const topHandle = handle(handles, n, "top", "M0,-5 V5 M-3,-2 L0,-5 L3,-2 M-3,2 L0,5 L3,2");
    const footHandle = handle(handles, n, "foot", "M-5,0 H5 M-2,-3 L-5,0 L-2,3 M2,-3 L5,0 L2,3");
    return {crown, leader, name, size: name.getBBox(), topHandle, footHandle};
  }

  function handle(handles, n, part, mark) {
    const group = put(handles, "g", {class: "handle " + part, role: "slider", tabindex: "0", "data-of": n + part});
    put(group, "rect", {class: "hit", x: -HIT, y: -HIT, width: 2 * HIT, height: 2 * HIT});
    put(group, "circle", {class: "ring", r: GRIP + 4});
    put(group, "circle", {class: "grip", r: GRIP});
    put(group, "path", {class: "mark", d: mark});
    group.addEventListener("pointerdown", (event) => begin(event, n, part, group));
    // What touch-action does not keep from the page: a finger that moves a tree does not scroll.
    group.addEventListener("touchstart", (event) => event.preventDefault(), {passive: false});
    group.addEventListener("keydown", (event) => key(event, n, part));
    return group;
  }

  function placeAll() {
    trees.forEach((tree, n) => drawn[n] && place(tree, drawn[n]));
    layNames();
  }

  function place(tree, made) {
    const at = around(tree.bearing_deg), seen = at <= data.to_deg;
    const shown = inside(at, data.from_deg, data.to_deg);
    const over = degrees(Math.atan2(tree.height_m - tree.eye_m, tree.distance_m));
    const shape = outline({...tree, bearing_deg: at});
    made.crown.setAttribute("points", seen ? points(shape) : "");
    const highest = Math.max(over, ...shape.map(([, h]) => h));
    // The tip of a tree too tall for the picture, and the foot, stay within reach.
    const topY = y(inside(over, 0, data.top_deg)), footY = y(FOOT_DEG);
    Object.assign(made, {
      seen, tip: [x(shown), Math.min(topY, footY - 2 * HIT)], foot: [x(shown), footY],
      over: Math.min(y(highest), topY, footY - 2 * HIT) - ROOM,
    });
    made.topHandle.setAttribute("transform", "translate(" + made.tip + ")");
    made.footHandle.setAttribute("transform", "translate(" + made.foot + ")");
    made.topHandle.style.display = made.footHandle.style.display = seen ? "" : "none";
    const [high, least, most] = [tree.height_m, tree.least_m, data.most_m].map((metres) => metres / data.unit_m);
    tellEars(made.topHandle, "Height of " + tree.name, high, written(tree), least, most);
    tellEars(made.footHandle, "Bearing of " + tree.name, at, bearingWords(tree), data.from_deg, data.to_deg);
  }

  // A name lies over its tree, or as near to that as no handle and no other words are in its way, with a line to the
  // tree. The highest in the sky come first; what finds no place is left out, and told by its handles alone.
  function layNames() {
    const seen = drawn.filter((made) => made.seen).sort((one, other) => one.tip[1] - other.tip[1]);
    const sky = {x: box.left, y: 0, width: box.width, height: y(0)};
    const taken = [...paths, ...seen.flatMap((made) => [room(made.tip), room(made.foot)])];
    for (const {name, leader} of drawn) name.style.display = leader.style.display = "none";
    for (const {name, leader, size, tip, over} of seen) {
      const {width, height} = size, usual = {x: tip[0] - width / 2, y: over - height, width, height};
      const place = freePlace(usual, sky, taken);
      if (!place) continue;
      taken.push(place);
      name.setAttribute("x", place.x);
      name.setAttribute("y", place.y - size.y);
      name.style.display = "";
      const ends = [inside(tip[0], place.x, place.x + width), inside(tip[1], place.y, place.y + height)];
      leader.setAttribute("d", "M" + tip + "L" + ends);
      leader.style.display = place.y === usual.y && ends[0] === tip[0] ? "none" : "";
    }
  }

  function tellEars(part, label, now, text, least, most) {
    part.setAttribute("aria-label", label);
    part.setAttribute("aria-valuetext", text);
    for (const [name, value] of [["now", now], ["min", least], ["max", most]])
      part.setAttribute("aria-value" + name, String(Math.round(value * 10) / 10));
  }

  function set(n, part, value) {
    const tree = trees[n];
    if (part === "top") {
      const steps = Math.round(inside(value, tree.least_m, data.most_m) / (data.unit_m * data.step));
      tree.height_m = inside(steps * data.unit_m * data.step, tree.least_m, data.most_m);
    } else {
      tree.bearing_deg = inside(Math.round(around(value)), Math.ceil(data.from_deg), Math.floor(data.to_deg));
    }
    placeAll();
    told.textContent = words(tree);
  }

  function begin(event, n, part, group) {
    if (event.button) return;
    event.preventDefault();
    finish();
    group.focus({preventScroll: true});
    group.setPointerCapture(event.pointerId);
    held = {n, part, from: JSON.stringify(trees[n]), group};
    drawn[n].crown.classList.add("held");
    told.textContent = words(trees[n]);
    const move = (moved) => {
      if (moved.pointerId !== event.pointerId) return;
      const frame = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / frame.width;
      if (part === "top") {
        const seen = inside(heightAt((moved.clientY - frame.top) * scale), -20, 88);
        set(n, part, trees[n].eye_m + trees[n].distance_m * Math.tan(radians(seen)));
      } else {
        set(n, part, inside(bearingAt((moved.clientX - frame.left) * scale), data.from_deg, data.to_deg));
      }
    };
    const end = (over) => {
      if (over.pointerId !== event.pointerId) return;
      group.removeEventListener("pointermove", move);
      group.removeEventListener("pointerup", end);
      group.removeEventListener("pointercancel", end);
      drawn[n].crown.classList.remove("held");
      if (over.type === "pointercancel") {
        trees[n] = JSON.parse(held.from);
        placeAll();
        held = null;
      } else finish();
    };
    group.addEventListener("pointermove", move);
    group.addEventListener("pointerup", end);
    group.addEventListener("pointercancel", end);
  }

  function key(event, n, part) {
    const way = {ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 5, PageDown: -5}[event.key];
    if (!way) return;
    event.preventDefault();
    if (held && (held.n !== n || held.part !== part)) finish();
    held ??= {n, part, from: JSON.stringify(trees[n])};
    const tree = trees[n];
    if (part === "top") set(n, part, tree.height_m + way * data.unit_m * data.step);
    else set(n, part, around(tree.bearing_deg) + way);
    clearTimeout(timer);
    timer = setTimeout(finish, RESTED_MS);
  }

  // Once for each drag or rest of the keys.
  function finish() {
    clearTimeout(timer);
    if (!held) return;
    const {n, from} = held, tree = trees[n];
    held = null;
    const changed = JSON.stringify(tree) !== from;
    const {bearing_deg, height_m} = changed ? tree : {bearing_deg: null, height_m: null};
    tell({number: tree.number, bearing_deg, height_m});
  }

  // A tree that is being moved stays as it is under the finger; all else is as the job says.
  function take(given, teller) {
    tell = teller;
    if (data !== null && JSON.stringify(given) === JSON.stringify(data)) return;
    const moving = held && trees[held.n];
    data = given;
    trees = structuredClone(data.trees);
    if (moving && trees[held.n] && trees[held.n].name === moving.name) {
      trees[held.n] = {...trees[held.n], height_m: moving.height_m, bearing_deg: moving.bearing_deg};
      if (held.group) return placeAll();
    }
    draw();
  }

  new ResizeObserver(() => {
    const wide = Math.max(root.clientWidth, LEAST_WIDE);
    if (data && root.clientWidth && !held?.group && wide !== svg.viewBox.baseVal.width) draw();
  }).observe(root);
  return {take};
}

export default function ({ data, parentElement, setTriggerValue }) {
  const root = parentElement.querySelector(".sky");
  if (!skies.has(root)) skies.set(root, make(root));
  skies.get(root).take(data, (moved) => setTriggerValue("moved", moved));
}
