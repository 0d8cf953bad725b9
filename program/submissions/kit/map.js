// The points of a submission's lines on a plain canvas: told by shape as well as by tone.
(() => {
  const MARKS = {
    NON_LEAD: { word: "Non-lead", tone: "#1f6b57", draw: dot },
    UNKNOWN: { word: "Unknown", tone: "#56636b", draw: ring },
    GRR: { word: "Galvanized requiring replacement", tone: "#7d4a12", draw: triangle },
    LEAD: { word: "Lead", tone: "#3d2c4f", draw: square },
  };
  const REACH = 12; // pixels around a press that a point may lie in

  function dot(pen, x, y, size) {
    pen.fillRect(x - size / 3, y - size / 3, size / 1.5, size / 1.5);
  }
  function ring(pen, x, y, size) {
    pen.beginPath();
    pen.arc(x, y, size / 2, 0, 7);
    pen.stroke();
  }
  function triangle(pen, x, y, size) {
    pen.beginPath();
    pen.moveTo(x, y - size / 1.5);
    pen.lineTo(x + size / 1.5, y + size / 2);
    pen.lineTo(x - size / 1.5, y + size / 2);
    pen.fill();
  }
  function square(pen, x, y, size) {
    pen.fillRect(x - size / 2, y - size / 2, size, size);
  }

  class PointMap {
    constructor(canvas, rows, open) {
      Object.assign(this, { canvas, rows, open, hidden: new Set() });
      this.points = rows.filter(({ lat, lon }) => Number.isFinite(lat) && Number.isFinite(lon));
      const range = (key) =>
        this.points.reduce(
          ([low, high], row) => [Math.min(low, row[key]), Math.max(high, row[key])],
          [Infinity, -Infinity],
        );
      [this.lat, this.lon] = [range("lat"), range("lon")];
      this.whole();
      canvas.onclick = (event) => this.pressed(event.offsetX, event.offsetY);
      canvas.onkeydown = (event) => this.key(event);
      canvas.onwheel = (event) => {
        event.preventDefault();
        this.scale(event.deltaY < 0 ? 1.25 : 0.8);
      };
    }

    whole() {
      const { width, height } = this.canvas;
      this.middle = [(this.lat[0] + this.lat[1]) / 2, (this.lon[0] + this.lon[1]) / 2];
      this.narrow = Math.cos((this.middle[0] * Math.PI) / 180);
      const across = (this.lon[1] - this.lon[0]) * this.narrow || 0.001;
      this.perDegree =
        0.94 * Math.min(width / across, height / (this.lat[1] - this.lat[0] || 0.001));
      this.draw();
    }

    scale(by) {
      this.perDegree *= by;
      this.draw();
    }

    key(event) {
      const steps = { ArrowUp: [1, 0], ArrowDown: [-1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };
      const step = steps[event.key];
      if (step) {
        const by = 80 / this.perDegree;
        this.middle = [
          this.middle[0] + by * step[0],
          this.middle[1] + (by * step[1]) / this.narrow,
        ];
        this.draw();
      } else if (event.key === "+") this.scale(1.25);
      else if (event.key === "-") this.scale(0.8);
      else return;
      event.preventDefault();
    }

    place({ lat, lon }) {
      const { width, height } = this.canvas;
      const x = width / 2 + (lon - this.middle[1]) * this.narrow * this.perDegree;
      return [x, height / 2 - (lat - this.middle[0]) * this.perDegree];
    }

    draw() {
      const { width, height } = this.canvas;
      const pen = this.canvas.getContext("2d");
      pen.clearRect(0, 0, width, height);
      const size = this.points.length > 20_000 ? 4 : 8;
      for (const [category, mark] of Object.entries(MARKS)) {
        if (this.hidden.has(category)) continue;
        pen.fillStyle = mark.tone;
        pen.strokeStyle = mark.tone;
        for (const row of this.points) {
          if (row.category !== category) continue;
          const [x, y] = this.place(row);
          if (x > -9 && y > -9 && x < width + 9 && y < height + 9) mark.draw(pen, x, y, size);
        }
      }
    }

    pressed(x, y) {
      const { canvas } = this;
      const by = canvas.width / canvas.clientWidth;
      let [nearest, least] = [null, (REACH * by) ** 2];
      for (const row of this.points) {
        if (this.hidden.has(row.category)) continue;
        const [px, py] = this.place(row);
        const far = (px - x * by) ** 2 + (py - y * by) ** 2;
        if (far < least) [nearest, least] = [row, far];
      }
      if (nearest) this.open(this.rows.indexOf(nearest));
    }
  }

  globalThis.mapping = { MARKS, PointMap };
})();
