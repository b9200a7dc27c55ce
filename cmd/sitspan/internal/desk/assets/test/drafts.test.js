import assert from "node:assert/strict";
import {test} from "node:test";
import {draftFor, fieldsOf, fill} from "../drafts.js";

const input = (name, value, type = "text", checked) => ({name, value, type, checked});
const form = (...elements) => ({elements});

test("fields come back by name and place", () => {
  const from = form(
    input("token", "secret", "hidden"),
    input("bike", "one"),
    input("bike", "two"),
    input("note", "a, b"),
    input("complaint", "numbness", "checkbox", true),
    input("complaint", "pain", "checkbox", false),
  );
  const fields = fieldsOf(from);
  assert.ok(!JSON.stringify(fields).includes("secret"));
  const to = form(
    input("token", "other", "hidden"),
    input("bike", ""),
    input("bike", ""),
    input("note", ""),
    input("complaint", "numbness", "checkbox", false),
    input("complaint", "pain", "checkbox", true),
  );
  fill(to, fields);
  assert.deepEqual(
    to.elements.map(e => e.checked ?? e.value),
    ["other", "one", "two", "a, b", true, false],
  );
  fill(form(input("bike", "")), fields); // a row that is not there any more is left out
});

test("a draft is dropped only where it was sent and the desk has something newer", () => {
  assert.equal(draftFor(null, "1"), "");
  assert.equal(draftFor({version: "1"}, "1"), "fill");
  assert.equal(
    draftFor({version: "1"}, "2"),
    "fill",
    "another window kept something: both are to be shown",
  );
  assert.equal(draftFor({version: "1", sent: true}, "1"), "fill", "it did not arrive");
  assert.equal(draftFor({version: "1", sent: true}, "2"), "forget");
});
