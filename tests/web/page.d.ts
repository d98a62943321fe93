// What the page's scripts find when they start, and what they hang on things of the browser and of the map's library.
// `geozone` itself has no description: a script's names are its own, and eslint and the tests in Chromium look at their use.
import "leaflet";

declare global {
  var geozone: any;
  var page: any;
  var map_geozone: any;

  // A look-up by selector or id says no more than "an element"; the page's own markup says which.
  interface Document { getElementById(id: string): any; }
  interface ParentNode { querySelector(selectors: string): any; querySelectorAll(selectors: string): NodeListOf<any>; }
  interface HTMLCanvasElement { repaint(): void; transferToImageBitmap(): ImageBitmap; }
}

declare module "leaflet" {
  interface LayerGroup { area: any; line: any; }
  interface Renderer { _update(): void; }
}
