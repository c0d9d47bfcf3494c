//! How the page looks: one column on a phone, printable on A4 and Letter, nothing told by colour alone.

/// The style sheet, without the photo.
pub(super) const STYLE: &str = "\
:root{color-scheme:light}\n\
*{box-sizing:border-box}\n\
body{margin:0 auto;max-width:60rem;padding:1rem;font:1rem/1.5 system-ui,sans-serif;color:#1a1a1a;background:#fff;overflow-wrap:anywhere}\n\
h1{font-size:1.6rem;line-height:1.25;margin:.2rem 0 .4rem}\n\
h2{font-size:1.2rem;margin:1.8rem 0 .4rem;border-bottom:1px solid #bbb}\n\
p,ul{margin:.4rem 0}\n\
ul{padding-left:1.2rem}\n\
.say{border:2px solid #1a1a1a;border-radius:.4rem;padding:.6rem .9rem;margin:.8rem 0}\n\
.say p:first-child{font-size:1.2rem;font-weight:600}\n\
.note{color:#444}\n\
figure{margin:.6rem 0}\n\
figcaption{font-size:.95rem;color:#333}\n\
.view{position:relative;width:100%;overflow:hidden;border:1px solid #999}\n\
.photo{background-repeat:no-repeat;background-size:100% 100%;print-color-adjust:exact;-webkit-print-color-adjust:exact}\n\
.view svg{position:absolute;left:0;top:0;width:100%;height:100%}\n\
.three{display:grid;grid-template-columns:repeat(3,1fr);gap:.8rem}\n\
.scroll{overflow-x:auto}\n\
table{border-collapse:collapse;width:100%;font-size:.95rem;overflow-wrap:normal}\n\
th,td{text-align:left;padding:.25rem .5rem;border-bottom:1px solid #ccc;vertical-align:top}\n\
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums}\n\
td.n{white-space:nowrap}\n\
dl{display:grid;grid-template-columns:minmax(8rem,max-content) 1fr;gap:.2rem 1rem;margin:.4rem 0}\n\
dt{font-weight:600}\n\
dd{margin:0}\n\
code{font:.9rem/1.4 ui-monospace,monospace;overflow-wrap:anywhere}\n\
.seal{display:flex;flex-wrap:wrap;gap:1rem;align-items:flex-start}\n\
.seal svg{width:11rem;height:11rem;flex:none}\n\
.seal div{flex:1 1 16rem;min-width:0}\n\
pre{white-space:pre-wrap;font:.9rem/1.45 ui-monospace,monospace;margin:.4rem 0}\n\
@media (max-width:36rem){.three{grid-template-columns:1fr}dl{grid-template-columns:1fr}dd{margin-bottom:.4rem}table{font-size:.8rem}th,td{padding:.2rem}}\n\
@media print{@page{margin:14mm}body{max-width:none;padding:0;font-size:10.5pt}figure,tr,.say,.seal,dl{break-inside:avoid}h2{break-after:avoid}.view{max-height:190mm}}\n";
