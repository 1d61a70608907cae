/** Text for HTML and SVG, in elements and in quoted attributes; what steers a terminal or breaks a line is shown as `?`. */
export const escaped = (text: string): string =>
  text.replaceAll(/[\p{Cc}\p{Cs}\p{Zl}\p{Zp}]/gu, "?").replaceAll(/[&<>"']/g, (sign) => SIGNS[sign]!);

const SIGNS: Readonly<Record<string, string>> = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
  "'": "&#39;",
};
