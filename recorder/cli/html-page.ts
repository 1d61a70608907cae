/** The frame of a page that prints on A4: nothing is fetched and nothing runs, so it can be mailed and filed. */
import { escaped } from "../drawing/escaped.ts";

/** `body` is HTML, `title` plain text; `style` comes after that of every page. */
export const htmlPage = (title: string, body: string, style = ""): string => `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width">
<title>${escaped(title)}</title>
<style>${STYLE}${style}</style>
</head>
<body>
${body}
</body>
</html>
`;

/** Black on white, and shapes for what else would be colours. */
const STYLE = `
@page { size: A4; margin: 15mm; }
body { font: 10pt/1.4 sans-serif; color: #000; background: #fff; max-width: 180mm; margin: 1em auto; padding: 0 1em; }
h1 { font-size: 16pt; margin: 0 0 .5em; }
h2 { font-size: 12pt; margin: 1.2em 0 .4em; border-bottom: 1px solid #000; break-after: avoid; }
p { margin: .4em 0; }
ul { margin: .3em 0; padding-left: 1.4em; }
table { border-collapse: collapse; margin: .5em 0; font-variant-numeric: tabular-nums; }
th, td { padding: .15em .7em .15em 0; text-align: left; vertical-align: top; }
thead th { border-bottom: 1px solid #000; }
tr, figure { break-inside: avoid; }
.number { text-align: right; }
.facts td { overflow-wrap: anywhere; }
figure { margin: .8em 0; }
figcaption { font-size: 9pt; }
svg { width: 130mm; max-width: 100%; height: auto; }
.signature { margin-top: 3em; }
.signature span { display: inline-block; width: 60mm; border-bottom: 1px solid #000; margin-right: 1em; }
@media print { body { margin: 0; padding: 0; max-width: none; } }
`;
