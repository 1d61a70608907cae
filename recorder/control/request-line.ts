/** One line from a socket to a request, or what is wrong with it. Nothing a stranger sends throws here. */
import { uuid } from "../../protocol/messages/parts.ts";
import { type Response, refused } from "../../protocol/requests/response.ts";
import { readObject, type Unreadable } from "./json-object.ts";

export type ReadRequest =
  | { readonly ok: true; readonly request_id: string; readonly verb: unknown; readonly args: object }
  | { readonly ok: false; readonly response: Response };

export function readRequestLine(line: Uint8Array): ReadRequest {
  const read = readObject(line);
  if (!read.ok) return bad(UNREADABLE[read.why]);
  const { request_id, verb, ...args } = read.value;
  const id = uuid.safeParse(request_id);
  if (!id.success)
    return bad(request_id === undefined ? "The request_id is missing." : "The request_id must be a UUID.");
  return { ok: true, request_id: id.data, verb, args };
}

const UNREADABLE: Readonly<Record<Unreadable, string>> = {
  "not-json": "The line is not JSON in UTF-8.",
  "not-an-object": "The line is not a JSON object.",
  "too-deep": "The line nests deeper than any request.",
};

const bad = (message: string): ReadRequest => ({
  ok: false,
  response: {
    request_id: null,
    ...refused("bad-request", message, 'A request is one line: {"verb":"status","request_id":"<a new UUID>"}'),
  },
});
