// Rules for the page: the recommended ones, and no way for a piece's name to become markup.
import js from "@eslint/js";
import globals from "globals";

export default [
  js.configs.recommended,
  {
    languageOptions: { ecmaVersion: 2023, sourceType: "module", globals: globals.browser },
    rules: {
      eqeqeq: "error",
      "no-eval": "error",
      "no-var": "error",
      "prefer-const": "error",
      "no-restricted-properties": [
        "error",
        { property: "innerHTML", message: "Data is never markup: use textContent." },
        { property: "outerHTML", message: "Data is never markup: use textContent." },
        { property: "insertAdjacentHTML", message: "Data is never markup: use textContent." },
      ],
      "max-lines": ["error", { max: 300, skipComments: true, skipBlankLines: true }],
      "max-lines-per-function": ["error", { max: 70, skipComments: true, skipBlankLines: true }],
    },
  },
];
