"""Script of a self-contained page that switches day and night colours; day colours in print."""

from __future__ import annotations

NIGHT_SCRIPT = (
    "(()=>{const r=document.documentElement,b=document.getElementById('night'),"
    "d=matchMedia('(prefers-color-scheme: dark)');let c=0;"
    "const s=n=>{r.dataset.light=n?'night':'day';b.setAttribute('aria-pressed',String(n))};"
    "b.hidden=false;b.onclick=()=>{c=1;s(r.dataset.light!=='night')};"
    "d.addEventListener('change',()=>{if(!c)s(d.matches)});s(d.matches);"
    "let n=0;addEventListener('beforeprint',()=>{n=r.dataset.light==='night';s(false)});"
    "addEventListener('afterprint',()=>s(n))})();"
)
"""Optional: the page works without it."""
