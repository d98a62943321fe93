// Rules that find faults; none of taste.
import js from "@eslint/js";

const browser = ["window", "document", "L", "geozone", "getComputedStyle", "requestAnimationFrame", "matchMedia", "location",
  "history", "setTimeout", "clearTimeout", "URL", "console", "navigator", "ResizeObserver", "OffscreenCanvas", "performance", "atob", "cancelAnimationFrame", "ImageData", "fetch", "AbortController", "setInterval", "addEventListener", "FormData", "URLSearchParams", "Event"];

export default [
  js.configs.recommended,
  {
    languageOptions: {
      ecmaVersion: 2022,
      sourceType: "script",
      globals: Object.fromEntries(browser.map(name => [name, "readonly"])),
    },
    rules: {
      "array-callback-return": "error",
      "eqeqeq": "error",
      "no-constructor-return": "error",
      "no-self-compare": "error",
      "no-shadow": "off",
      "no-template-curly-in-string": "error",
      "no-unreachable-loop": "error",
      "no-unused-vars": ["error", { args: "none", caughtErrors: "none" }],
      "no-use-before-define": ["error", { functions: false, variables: false }],
      "no-var": "error",
      "prefer-const": "error",
      "strict": ["error", "function"],
    },
  },
];
