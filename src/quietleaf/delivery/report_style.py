"""How a report looks: ink on paper, one accent, rules and white; screen and print."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

LIGHT: Mapping[str, str] = {
    "paper": "#FAF7F0",
    "ink": "#1D1B16",
    "soft-ink": "#575143",
    "rule": "#857C69",
    "accent": "#5B2A6E",
    "wash": "#EFE9DA",
}
DARK: Mapping[str, str] = {
    "paper": "#16151A",
    "ink": "#F1ECE0",
    "soft-ink": "#B9B2A2",
    "rule": "#7D776A",
    "accent": "#D3B3E3",
    "wash": "#24222A",
}
LIGHT_CONTRAST: Mapping[str, str] = {
    "paper": "#FFFFFF",
    "ink": "#000000",
    "soft-ink": "#000000",
    "rule": "#000000",
    "accent": "#431457",
    "wash": "#F2F2F2",
}
DARK_CONTRAST: Mapping[str, str] = {
    "paper": "#000000",
    "ink": "#FFFFFF",
    "soft-ink": "#FFFFFF",
    "rule": "#FFFFFF",
    "accent": "#ECD6F7",
    "wash": "#1C1C1C",
}
SERIF = "EB Garamond"
SANS = "Atkinson Hyperlegible Next"


@dataclass(frozen=True, slots=True, kw_only=True)
class FontFace:
    """A face that travels inside the page, as WOFF2; its licence allows that."""

    family: str
    weight: int
    woff2: bytes


def style(faces: Iterable[FontFace]) -> str:
    """Write the whole style; without faces the page uses what the reader's machine has."""
    return "".join(
        (
            *(_face(face) for face in faces),
            f":root{{color-scheme:light dark;--thin:1px;{_tokens(LIGHT)}"
            "--hair:color-mix(in srgb,var(--rule) 42%,var(--paper))}",
            f"@media screen and (prefers-color-scheme:dark){{:root{{{_tokens(DARK)}}}}}",
            "@media (prefers-contrast:more){:root{--thin:2px;--hair:var(--rule);"
            f"{_tokens(LIGHT_CONTRAST)}}}}}",
            "@media screen and (prefers-contrast:more) and (prefers-color-scheme:dark)"
            f"{{:root{{{_tokens(DARK_CONTRAST)}}}}}",
            _STYLE,
            "@media screen and (prefers-color-scheme:dark){.spectrum img{filter:invert(1)}}",
        )
    )


def _tokens(tokens: Mapping[str, str]) -> str:
    return "".join(f"--{name}:{value};" for name, value in tokens.items())


def _face(face: FontFace) -> str:
    data = b64encode(face.woff2).decode("ascii")
    return (
        f'@font-face{{font-family:"{face.family}";font-weight:{face.weight};'
        f'src:url("data:font/woff2;base64,{data}") format("woff2")}}'
    )


_STYLE = """
*{box-sizing:border-box}
html{font-size:112.5%;text-size-adjust:none;-webkit-text-size-adjust:none}
body{margin:0 auto;max-width:46rem;padding:0 clamp(1rem,5vw,3rem) 4rem;background:var(--paper);
color:var(--ink);font:1rem/1.5 "Atkinson Hyperlegible Next","Atkinson Hyperlegible",Verdana,
sans-serif;font-variant-numeric:tabular-nums;overflow-wrap:break-word}
h1,h2,h3,p,ol,ul,dl,dd,figure{margin:0;padding:0}
ol,ul{list-style:none}
h1,h2{font-family:"EB Garamond","Iowan Old Style","Palatino Linotype",Palatino,Georgia,serif;
font-weight:400;line-height:1.15;text-wrap:balance}
h1{font-size:clamp(2.1rem,1.4rem + 3vw,3.1rem);letter-spacing:-.01em}
h2{font-size:1.6rem}
h3{font-size:1rem;line-height:1.5}
header{padding:2.6rem 0 .9rem;border-bottom:4px double var(--rule)}
header p{margin-top:.5rem;color:var(--soft-ink)}
.dot{font-style:normal}
section{margin-top:2.8rem}
section>h2{padding-bottom:.35rem}
a{color:var(--accent);text-decoration-thickness:.08em;text-underline-offset:.2em}
a:hover{text-decoration-thickness:.16em}
:focus-visible{outline:3px solid var(--accent);outline-offset:3px}
.soft{color:var(--soft-ink)}
.small{font-size:.9rem}
.unseen{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
.verdict{margin-top:2rem}
.verdict h2{font-size:clamp(1.6rem,1.2rem + 1.6vw,2.15rem);line-height:1.45;padding-bottom:.9rem}
.verdict h2 .mark{border-width:.07em;padding-bottom:.12em}
.verdict li{padding-left:1.3rem;position:relative}
.verdict li::before{content:"–";position:absolute;left:0;color:var(--soft-ink)}
.verdict .fit{margin-top:.5rem}
.mark{padding-bottom:.1em}
.fix{border-bottom:.14em solid currentColor}
.hear{border-bottom:.14em dashed currentColor}
.note{border-bottom:.14em dotted currentColor}
table{border-collapse:collapse;width:100%;text-align:left}
th,td{padding:.45rem 1rem .45rem 0;vertical-align:baseline;
border-top:var(--thin) solid var(--hair)}
thead th{border-top:0;padding-top:.2rem;font-weight:400;font-size:.9rem;color:var(--soft-ink)}
tbody tr:first-child>*{border-top-color:var(--rule)}
tbody tr:last-child>*{border-bottom:var(--thin) solid var(--rule)}
tbody th{font-weight:400}
.number{white-space:nowrap}
.numbers .master{font-weight:700}
.numbers td:last-child{padding-right:0}
.label{display:none}
.unit{color:var(--soft-ink);font-weight:400;font-size:.9rem}
.convention{margin-top:.7rem}
.plot{display:grid;grid-template-columns:max-content 1fr;column-gap:.7rem;margin-top:.6rem}
.levels{position:relative;width:2.6rem;font-size:.9rem;color:var(--soft-ink)}
.levels span{position:absolute;right:0;transform:translateY(-50%);line-height:1}
.levels .target{color:var(--ink);font-weight:700}
.plot svg{display:block;width:100%;height:13rem;overflow:visible}
.plot path{fill:none;stroke:var(--ink);stroke-width:1.6;stroke-linejoin:round}
.plot line,.plot path{vector-effect:non-scaling-stroke}
.plot .paper-rule{stroke:var(--hair);stroke-width:1}
.plot .target-rule{stroke:var(--rule);stroke-width:1}
.plot .band{fill:var(--wash)}
.plot .base{stroke:var(--rule);stroke-width:1}
.plot .thing{stroke:var(--ink);stroke-width:5}
.plot .hear-thing{stroke-dasharray:3 2}
.times{grid-column:2;position:relative;height:1.6rem;font-size:.9rem;color:var(--soft-ink)}
.times span{position:absolute;top:.25rem;transform:translateX(-50%)}
.times span:first-child{transform:none}
figcaption{margin-top:.5rem;color:var(--soft-ink)}
details{margin-top:.7rem}
summary{padding:.25rem 0;min-height:2rem;color:var(--accent);cursor:pointer;
text-decoration:underline;text-decoration-thickness:.08em;text-underline-offset:.2em}
summary:hover{text-decoration-thickness:.16em}
.twin{max-width:26rem}
.twin th,.twin td{padding-top:.2rem;padding-bottom:.2rem}
.things{margin-top:.6rem}
.things>li{padding:.8rem 0 .9rem;border-top:var(--thin) solid var(--hair)}
.things>li:first-child{border-top-color:var(--rule)}
.things>li:last-child{border-bottom:var(--thin) solid var(--rule)}
.things .at{font-weight:400}
.things details{margin-top:.2rem}
audio{display:block;width:100%;margin-top:.6rem}
.done>li{padding:.45rem 0}
.done>li+li,.files>li+li,.articles>li+li{border-top:var(--thin) solid var(--hair)}
.repairs>li{padding:.8rem 0 1rem;border-top:var(--thin) solid var(--hair)}
.repairs>li:last-child{border-bottom:var(--thin) solid var(--rule)}
.repairs .at{font-weight:400}
.pair{display:grid;grid-template-columns:1fr 1fr;gap:.6rem 1.2rem;margin-top:.6rem}
.spectrum{border:var(--thin) solid var(--hair)}
.spectrum img{display:block;width:100%;height:8rem}
.where{position:relative;height:.5rem;margin:0 var(--thin)}
.where i{position:absolute;top:.15rem;height:.25rem;min-width:.3rem;background:var(--ink)}
.level{grid-column:1/-1}
.level svg{display:block;width:100%;height:5rem;border:var(--thin) solid var(--hair)}
.level rect{fill:var(--wash)}
.level polyline{fill:none;stroke:var(--ink);stroke-width:1.6;vector-effect:non-scaling-stroke}
.level .before{stroke-dasharray:1.5 2.5}
.pair figcaption{margin-top:.15rem}
.files{margin-top:.3rem}
.files>li{display:flex;flex-wrap:wrap;gap:0 .8rem;justify-content:space-between;
align-items:baseline;padding:.35rem 0}
.files a{display:inline-block;padding:.25rem 0;min-height:2rem}
.articles{margin-top:.8rem}
.articles>li{display:flex;gap:1rem;align-items:baseline}
.articles a{display:inline-block;min-width:4.2rem;padding:.25rem 0;min-height:2rem}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.3rem 1.4rem;margin-top:.3rem}
dt{color:var(--soft-ink)}
@media (max-width:34rem){
header{padding-top:1.6rem}
.numbers thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.numbers,.numbers tbody{display:block}
.numbers tr{display:grid;grid-template-columns:minmax(0,2fr) minmax(0,3fr);padding:.6rem 0;
border-top:var(--thin) solid var(--hair)}
.numbers tr>*,.numbers tr:first-child>*,.numbers tr:last-child>*{
display:block;border:0;padding:0 .6rem .1rem 0}
.numbers tbody{border-bottom:var(--thin) solid var(--rule);
border-top:var(--thin) solid var(--rule)}
.numbers tr:first-child{border-top:0}
.numbers th,.numbers td:last-child{grid-column:1/-1}
.numbers th{font-weight:700}
.label{display:block;color:var(--soft-ink);font-weight:400;font-size:.9rem}
.numbers td:last-child .label{display:inline}
header span{display:block}
header .dot{display:none}
dl{grid-template-columns:1fr;row-gap:0}
dd{margin-bottom:.6rem}
.pair{grid-template-columns:1fr}
.plot{column-gap:.4rem}
.plot path{stroke-width:1.2}
.levels{width:2.3rem}
}
@media (forced-colors:active){
.plot path,.plot .thing{stroke:CanvasText}
.plot .band{fill:none}
.where i{background:CanvasText}
.level polyline{stroke:CanvasText}
.level rect{fill:none}
.plot .paper-rule,.plot .target-rule,.plot .base{stroke:GrayText}
}
@page{margin:18mm 20mm}
@media print{
html{font-size:11pt}
body{max-width:none;padding:0;background:none}
.listen,.things details{display:none}
a,summary{color:inherit;text-decoration:none}
.twin th,.twin td{padding-top:0;padding-bottom:0;line-height:1.3}
details::details-content{content-visibility:visible;block-size:auto}
.where i{print-color-adjust:exact}
section,figure,.things>li,.repairs>li,tr{break-inside:avoid}
h2{break-after:avoid}
}
"""
