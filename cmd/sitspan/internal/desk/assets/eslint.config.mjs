import js from "@eslint/js";

const browser = [
  "document",
  "window",
  "location",
  "fetch",
  "setTimeout",
  "clearTimeout",
  "setInterval",
  "URL",
  "URLSearchParams",
  "XMLHttpRequest",
  "FormData",
  "File",
  "Image",
  "DOMPoint",
  "Event",
  "DOMParser",
  "indexedDB",
  "sessionStorage",
  "localStorage",
  "addEventListener",
  "AbortController",
  "structuredClone",
  "TextDecoder",
  "setImmediate",
  "console",
];

export default [
  js.configs.recommended,
  {
    languageOptions: {globals: Object.fromEntries(browser.map(name => [name, "readonly"]))},
    rules: {
      "max-len": ["error", {code: 110}],
      "no-var": "error",
      "prefer-const": ["error", {destructuring: "all"}],
      eqeqeq: "error",
      "max-lines-per-function": ["error", {max: 80, skipComments: true, skipBlankLines: true}],
    },
  },
  {files: ["test/**"], rules: {"max-lines-per-function": "off"}},
];
