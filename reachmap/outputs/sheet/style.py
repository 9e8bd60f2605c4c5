"""The style sheet of a pocket sheet: large black type on white, one side a page."""

from __future__ import annotations

from reachmap.outputs.sheet.paper import FACES, LINE_PX, TYPE_PX, Paper


def sheet_style(paper: Paper) -> str:
    """Return the style sheet for a paper."""
    width, height = paper.inner
    return (
        f"@page{{size:{paper.name};margin:{paper.margin}in}}*{{box-sizing:border-box}}"
        "html{-webkit-print-color-adjust:exact;print-color-adjust:exact}"
        f"body{{margin:0;background:#fff;color:#000;font:{TYPE_PX:g}px/{LINE_PX:g}px {FACES}}}"
        f".side{{width:{width:.0f}px;height:{height - 2:.0f}px;overflow:hidden;margin:auto;"
        "break-after:page;page-break-after:always}"
        ".side:last-child{break-after:auto;page-break-after:auto}"
        "h1{margin:0;font-size:17px;line-height:21px;display:flex;justify-content:space-between}"
        "p{margin:0}.caution{font-weight:700;border-bottom:2px solid #000;padding-bottom:1px}"
        ".off{font-weight:700;border:2px solid #000;padding:0 3px;margin-top:2px}"
        ".run{border-bottom:2px solid #000;overflow:hidden;padding-top:3px}"
        "h2{margin:0;font-size:14.5px;line-height:19px;display:flex;gap:5px;white-space:nowrap}"
        "h2 b{background:#000;color:#fff;border-radius:10px;min-width:20px;text-align:center;"
        "padding:0 5px}h2 i{font-style:normal;font-weight:400;font-size:13px;margin-left:auto}"
        ".both{display:flex;gap:6px}.map,.strip{display:block;flex:none}"
        ".told{flex:1 1 0;min-width:0}.told p{padding-left:8px;text-indent:-8px}"
        ".told .mind{border:1.6px solid #000;padding:0 3px 0 11px;margin-bottom:1px}"
        ".large .told{font-size:14.5px;line-height:17.6px}"
        ".huge .told{font-size:16px;line-height:20px}"
        ".told span{white-space:nowrap}.bar{vertical-align:-2px}"
        ".strips{display:flex;gap:6px;margin:4px 0}.none{font-weight:700;font-size:15px;"
        "line-height:20px;margin:4px 0}"
        ".key{display:flex;flex-wrap:wrap;gap:1px 9px;margin-top:3px}.key span{white-space:nowrap}"
        ".key svg{vertical-align:-2px}"
        ".qr{display:flex;align-items:center;gap:8px}.qr svg{flex:none}"
        ".qr p{overflow-wrap:anywhere}"
        "@media screen{body{background:#777}.side{background:#fff;margin:12px auto;"
        f"padding:{paper.margin}in;width:{paper.width}in;height:{paper.height}in;zoom:1.4}}}}"
        "@media screen and (max-width:820px){.side{zoom:1;max-width:100vw;height:auto;"
        "overflow-x:auto}}"
    )
