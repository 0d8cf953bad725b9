// Codes read by the browser's own detector, where it has one; where not, the button stays hidden and
// the code is typed, by hand or by a scanner. `found(code)` says whether the camera may rest.
"use strict";
window.houseScan = ({ formats, found }) => {
  const box = document.getElementById("scan");
  const sight = document.getElementById("scan-sight");
  const said = document.getElementById("scan-said");
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices) return;
  box.hidden = false;
  const detector = new BarcodeDetector({ formats });
  let stream = null;
  const stop = () => {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = null;
    sight.hidden = true;
  };
  const look = async () => {
    if (!stream) return;
    const [seen] = await detector.detect(sight).catch(() => []);
    if (seen && found(seen.rawValue)) stop();
    else requestAnimationFrame(look);
  };
  document.getElementById("scan-start").addEventListener("click", async () => {
    if (stream) {
      stop();
      return;
    }
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      said.textContent = "The camera cannot be used; type the code instead.";
      return;
    }
    sight.srcObject = stream;
    sight.hidden = false;
    await sight.play();
    look();
  });
};
