// Where words lie in a picture, so that nothing covers them. Boxes have x, y, width and height in pixels.
const FAR = 160;
// Ways from where words usually lie, the shortest first.
const WAYS = [];
for (let across = -FAR; across <= FAR; across += 8)
  for (let down = -FAR; down <= FAR; down += 4) WAYS.push([across, down]);
WAYS.sort((one, other) => Math.hypot(...one) - Math.hypot(...other));

const apart = (one, other) => one.x + one.width <= other.x || other.x + other.width <= one.x
  || one.y + one.height <= other.y || other.y + other.height <= one.y;
const within = (inner, outer) => inner.x >= outer.x && inner.x + inner.width <= outer.x + outer.width
  && inner.y >= outer.y && inner.y + inner.height <= outer.y + outer.height;

// The box moved as little as it must to lie in the frame and on nothing that is taken; undefined where that is too far.
function freePlace(box, frame, taken) {
  const x = Math.max(Math.min(box.x, frame.x + frame.width - box.width), frame.x);
  const y = Math.max(Math.min(box.y, frame.y + frame.height - box.height), frame.y);
  return WAYS.map(([across, down]) => ({...box, x: x + across, y: y + down}))
    .find((place) => within(place, frame) && taken.every((other) => apart(place, other)));
}
