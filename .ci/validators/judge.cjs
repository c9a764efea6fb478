// Judges documents by a JSON Schema with ajv. Standard input is one JSON object:
//   {"draft": "draft-07" or "2020-12", "schema": SCHEMA, "others": [SCHEMA, …], "documents": {NAME: DOCUMENT, …}}
// `others` are what `schema` refers to by their `$id`. Standard output is {NAME: ["/where: what", …], …}.
"use strict";
const { readFileSync } = require("node:fs");
const addFormats = require("ajv-formats").default;

const given = JSON.parse(readFileSync(0, "utf-8"));
const Ajv = require(given.draft === "2020-12" ? "ajv/dist/2020" : "ajv").default;
// Words of the project's own (`x-kind`) are no mistakes.
const ajv = addFormats(new Ajv({ allErrors: true, strict: false, logger: false, schemas: given.others || [] }));
const judge = ajv.compile(given.schema);
const told = {};
for (const [name, document] of Object.entries(given.documents)) {
  told[name] = judge(document) ? [] : judge.errors.map((one) => `${one.instancePath || "/"}: ${one.message}`);
}
process.stdout.write(JSON.stringify(told));
