/** The generated part of what is published: what is to stand in which checked-in file. */
import { asyncapiDocument } from "./asyncapi.ts";
import { allSchemas, jsonSchemaOf } from "./json-schemas.ts";

export const SCHEMA_FOLDER = "protocol/schemas";

/** Path from the top of the checkout -> content, the same at every call. */
export function contractFiles(): Map<string, string> {
  const schemas = [...allSchemas()].map(
    ([name, schema]) => [`${SCHEMA_FOLDER}/${name}.json`, pretty(jsonSchemaOf(name, schema, "draft-2020-12"))] as const,
  );
  return new Map([["protocol/asyncapi.json", pretty(asyncapiDocument())], ...schemas]);
}

const pretty = (value: unknown): string => `${JSON.stringify(value, null, 2)}\n`;
