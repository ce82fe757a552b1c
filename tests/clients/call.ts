// Calls the live service with the TypeScript client that its document generates; prints as JSON what the client understood.
//     node call.js ADDRESS
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

// One client a medium: the types then know which of an operation's media comes back.
type Failed = "application/problem+json";
const baseUrl = process.argv[2]!;
const client = createClient<paths, "application/json" | Failed>({ baseUrl });
const inLines = createClient<paths, "application/x-ndjson" | Failed>({ baseUrl });

type Reading = components["schemas"]["PlateMarginRequest"];
const reading: Reading = { original_mm: 10, plate_mm: 8.8, pit_depth_mm: 2.6, years_in_service: 16, environment: "fresh_water" };

// The types refuse what the service would.
// @ts-expect-error: a member that is misspelt
export const misspelt: Reading = { ...reading, plate: 8.8 };
// @ts-expect-error: a name that is none of the list
export const unknown: Reading = { ...reading, environment: "tea" };
// @ts-expect-error: a member that is missing
export const missing: Reading = { original_mm: 10, plate_mm: 8.8 };

async function oneReading() {
  const { data, response } = await client.POST("/v1/calculations/plate-margin", {
    body: reading,
    params: { header: { Prefer: "return=minimal" } },
  });
  if (data === undefined) throw new Error(`refused: ${response.status}`);
  const years: number | null = data.result.years;
  const status: "above" | "no_measurable_loss" | "already_below" = data.result.status;
  if (status !== "above" || data.working !== undefined) throw new Error(status);
  return { margin_mm: data.result.margin_mm, years, findings: data.findings.map((finding) => finding.code.toUpperCase()) };
}

async function readings() {
  const { data } = await client.POST("/v1/calculations/threshold-check", {
    body: { readings: [{ zone: "side", plate_mm: 5.4, side: "port" }, { zone: "chine", plate_mm: 3.9 }] },
  });
  return data?.result.verdict;
}

async function refused() {
  const { error } = await client.POST("/v1/calculations/plate-margin", { body: { ...reading, pit_depth_mm: 9.9 } });
  return error?.errors?.map((fault) => [fault.code, fault.pointer]);
}

async function listed() {
  const { data } = await client.GET("/v1/calculations");
  return data?.calculations.map((calculation) => calculation.id);
}

async function lines() {
  const { data } = await inLines.POST("/v1/calculations/plate-margin", {
    body: `${JSON.stringify(reading)}\n${JSON.stringify({ ...reading, plate_mm: -1 })}\n`,
    bodySerializer: (body) => body,
    headers: { "Content-Type": "application/x-ndjson" },
    parseAs: "text",
  });
  return data?.trimEnd().split("\n").map((line) => Object.keys(JSON.parse(line)));
}

console.log(
  JSON.stringify({
    one_reading: await oneReading(),
    readings: await readings(),
    refused: await refused(),
    listed: await listed(),
    lines: await lines(),
  }),
);
