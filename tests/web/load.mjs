// The page's scripts as the page runs them, in a world of their own without a document.
import { readFileSync } from "node:fs";
import vm from "node:vm";

const WEB = new URL("../../geozone/screens/web/", import.meta.url);

export function load(...names) {
  const world = vm.createContext({ atob, performance });
  vm.runInContext("var geozone = {};", world);
  for (const name of names) vm.runInContext(readFileSync(new URL(name, WEB), "utf8"), world, { filename: name });
  return world.geozone;
}

// Things of that world as things of this one, so that they can be compared.
export const plain = value => JSON.parse(JSON.stringify(value));

// The same numbers on every machine (a linear congruence, Numerical Recipes' constants).
export function random(seed) {
  let state = seed >>> 0;
  return function (below) {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor(state / 4294967296 * below);
  };
}
