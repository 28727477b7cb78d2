(<b data-hostile>comment</b></script><script>document.documentElement.dataset.hit=1</script><!-- &lt;i&gt; "')
G21 G90 G17 G94
T1 M6
S16000 M3
G0 X-5 Y10 Z5
G0 Z-2 (<img src=x onerror="document.documentElement.dataset.hit=1"><b data-hostile>beside a move</b>)
G0 X15 (MSG, <b data-hostile>message</b>)
G1 X35 F900
G0 Z5
M2
