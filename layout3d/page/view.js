"use strict";
// The model that turns: bodies as the page carries them, hidden by part, picked by a click. Axes are the tank's.
(() => {
  const canvas = document.querySelector(".stage canvas");
  const still = document.querySelector(".still");
  const picked = document.querySelector(".picked");
  const solids = JSON.parse(document.getElementById("solids").textContent);
  const facts = JSON.parse(document.getElementById("facts").textContent);

  let renderer;
  try {
    renderer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: true });
  } catch (fault) {
    document.querySelector(".stage").hidden = true;
    picked.textContent = "This browser can't draw the model: it has no WebGL. The sheets below show the same.";
    return;
  }

  // -- bodies -----------------------------------------------------------------------------------------------
  const text = atob(solids.bytes);
  const bytes = new Uint8Array(text.length);
  for (let k = 0; k < text.length; k += 1) bytes[k] = text.charCodeAt(k);

  const places = (begin, count, body) => {
    const steps = new Uint16Array(bytes.buffer, begin, 3 * count);
    const made = new Float32Array(3 * count);
    for (let k = 0; k < made.length; k += 1) {
      made[k] = body.low[k % 3] + (steps[k] / 65535) * body.size[k % 3];
    }
    return made;
  };

  const scene = new THREE.Scene();
  const meshes = [];
  const outlines = [];
  const box = new THREE.Box3();
  for (const body of solids.bodies) {
    const shape = new THREE.BufferGeometry();
    shape.setAttribute("position", new THREE.BufferAttribute(places(body.points, body.count, body), 3));
    shape.setAttribute(
      "normal", new THREE.BufferAttribute(new Int8Array(bytes.buffer, body.normals, 3 * body.count), 3, true));
    shape.setAttribute(
      "color", new THREE.BufferAttribute(new Uint8Array(bytes.buffer, body.colours, 4 * body.count), 4, true));
    const Faces = body.wide ? Uint32Array : Uint16Array;
    shape.setIndex(new THREE.BufferAttribute(new Faces(bytes.buffer, body.faces, body.corners), 1));
    const shine = Math.round(255 * Math.min(1, body.shine)) * 0x010101;
    const mesh = new THREE.Mesh(shape, new THREE.MeshPhongMaterial({
      vertexColors: true, transparent: body.clear, depthWrite: !body.clear, specular: shine, shininess: 24,
    }));
    mesh.userData = body;
    if (body.part === "water") mesh.renderOrder = 1;
    scene.add(mesh);
    meshes.push(mesh);
    shape.computeBoundingBox();
    box.union(shape.boundingBox);
    if (body.ends) {
      const lines = new THREE.BufferGeometry();
      lines.setAttribute("position", new THREE.BufferAttribute(places(body.edges, body.ends, body), 3));
      const drawn = new THREE.LineSegments(
        lines, new THREE.LineBasicMaterial({ color: 0x5d8f86, transparent: true, opacity: 0.8 }));
      drawn.userData = body;
      scene.add(drawn);
      outlines.push(drawn);
    }
  }
  scene.add(new THREE.HemisphereLight(0xffffff, 0x8f8a80, 0.72));
  for (const [strength, ...from] of [[0.5, -2, -3, 4], [0.16, 3, -1, 1], [0.1, 0, 4, 2]]) {
    const light = new THREE.DirectionalLight(0xffffff, strength);
    light.position.set(...from);
    scene.add(light);
  }
  const mark = new THREE.Mesh(
    new THREE.SphereGeometry(1, 20, 14),
    new THREE.MeshBasicMaterial({ color: 0xd55e00, transparent: true, opacity: 0.85, depthTest: false }));
  mark.renderOrder = 2;
  mark.visible = false;
  scene.add(mark);

  // -- camera -----------------------------------------------------------------------------------------------
  const middle = box.getCenter(new THREE.Vector3());
  const radius = box.getSize(new THREE.Vector3()).length() / 2;
  const camera = new THREE.PerspectiveCamera(28, 1, radius / 100, radius * 40);
  camera.up.set(0, 0, 1);
  const controls = new THREE.OrbitControls(camera, canvas);
  canvas.style.touchAction = "pan-y"; // a finger that goes up or down scrolls the page
  controls.enableZoom = false; // and so does the wheel, until the model is clicked
  controls.autoRotateSpeed = 1.6;
  const ways = {
    "three-quarter": [-0.62, -1, 0.42], front: [0, -1, 0], back: [0, 1, 0],
    left: [-1, 0, 0], right: [1, 0, 0], above: [0, -0.001, 1],
  };

  let asked = false;
  const draw = () => {
    asked = false;
    const turning = controls.autoRotate;
    controls.update();
    renderer.render(scene, camera);
    canvas.dataset.drawn = String(Number(canvas.dataset.drawn || 0) + 1);
    if (turning) ask();
  };
  const ask = () => {
    if (!asked) {
      asked = true;
      requestAnimationFrame(draw);
    }
  };
  const corners = [0, 1, 2, 3, 4, 5, 6, 7].map((k) => new THREE.Vector3(
    k & 1 ? box.max.x : box.min.x, k & 2 ? box.max.y : box.min.y, k & 4 ? box.max.z : box.min.z));
  const look = (way, at = null) => {
    const out = new THREE.Vector3(...ways[way]).normalize();
    const right = new THREE.Vector3().crossVectors(camera.up, out).normalize();
    const up = new THREE.Vector3().crossVectors(out, right);
    const tall = Math.tan((camera.fov * Math.PI) / 360) * 0.94; // a little air around it
    let far = at ? radius * 0.7 : 0;
    for (const corner of at ? [] : corners) {
      const arm = corner.clone().sub(middle);
      const need = Math.max(Math.abs(arm.dot(up)) / tall, Math.abs(arm.dot(right)) / (tall * camera.aspect));
      far = Math.max(far, need + arm.dot(out));
    }
    controls.target.copy(at || middle);
    camera.position.copy(controls.target).addScaledVector(out, far);
    ask();
  };
  const fitted = () => {
    const { clientWidth: wide, clientHeight: tall } = canvas;
    if (!wide || !tall) return;
    renderer.setPixelRatio(Math.min(2, window.devicePixelRatio || 1));
    renderer.setSize(wide, tall, false);
    camera.aspect = wide / tall;
    camera.updateProjectionMatrix();
    ask();
  };
  fitted();
  look("three-quarter");
  new ResizeObserver(fitted).observe(canvas);
  controls.addEventListener("change", ask);
  canvas.addEventListener("focus", () => { controls.enableZoom = true; });
  canvas.addEventListener("blur", () => { controls.enableZoom = false; });

  canvas.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1] }[event.key];
    const nearer = { "+": 0.85, "=": 0.85, "-": 1.18 }[event.key];
    if (!step && !nearer) return;
    event.preventDefault();
    const arm = camera.position.clone().sub(controls.target);
    const long = arm.length() * (nearer || 1);
    let around = Math.atan2(arm.y, arm.x);
    let down = Math.acos(Math.max(-1, Math.min(1, arm.z / arm.length())));
    if (step) {
      around += step[0];
      down = Math.max(0.01, Math.min(Math.PI - 0.01, down + step[1]));
    }
    arm.set(Math.sin(down) * Math.cos(around), Math.sin(down) * Math.sin(around), Math.cos(down));
    camera.position.copy(controls.target).add(arm.setLength(long));
    ask();
  });

  // -- parts ------------------------------------------------------------------------------------------------
  const boxes = [...document.querySelectorAll("[data-shown]")];
  const shown = new Set(boxes.map((each) => each.dataset.shown));
  const show = () => {
    for (const each of [...meshes, ...outlines]) each.visible = shown.has(each.userData.part);
    for (const each of boxes) each.checked = shown.has(each.dataset.shown);
    ask();
  };
  const set = (part, on) => {
    if (on) shown.add(part);
    else shown.delete(part);
    show();
  };
  boxes.forEach((each) => each.addEventListener("change", () => set(each.dataset.shown, each.checked)));
  document.querySelectorAll("[data-all]").forEach((button) => button.addEventListener("click", () => {
    shown.clear();
    if (button.dataset.all === "show") boxes.forEach((each) => shown.add(each.dataset.shown));
    show();
  }));

  const made = (kind, told) => Object.assign(document.createElement(kind), { textContent: told });
  const pick = (name) => {
    // a finding may name a body, "tank.back"; what is told is told of its part
    const part = name === null || facts[name] ? name : name.split(".")[0];
    for (const mesh of meshes) {
      const { body, part: of } = mesh.userData;
      mesh.material.emissive.setHex(part !== null && (body === name || of === name) ? 0x0b5a70 : 0);
    }
    picked.replaceChildren();
    canvas.dataset.picked = part === null ? "" : part;
    if (part === null || !facts[part]) {
      picked.append(made("p", "Nothing is picked."));
      return ask();
    }
    const list = document.createElement("dl");
    for (const [label, told] of facts[part]) list.append(made("dt", label), made("dd", told));
    const hide = made("button", `Hide ${part}`);
    hide.type = "button";
    hide.addEventListener("click", () => {
      set(part, false);
      pick(null);
    });
    picked.append(made("strong", name), list, hide);
    return ask();
  };
  const ray = new THREE.Raycaster();
  const under = (event) => {
    const { left, top, width, height } = canvas.getBoundingClientRect();
    const at = new THREE.Vector2(((event.clientX - left) / width) * 2 - 1, 1 - ((event.clientY - top) / height) * 2);
    ray.setFromCamera(at, camera);
    const hits = ray.intersectObjects(meshes.filter((mesh) => mesh.visible));
    const hit = hits.find((each) => !each.object.userData.clear) || hits[0]; // one picks through glass and water
    return hit ? hit.object.userData.part : null;
  };
  let pressed = null;
  canvas.addEventListener("pointerdown", (event) => { pressed = [event.clientX, event.clientY]; });
  canvas.addEventListener("pointerup", (event) => {
    const moved = pressed && Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]);
    if (pressed && event.button === 0 && moved < 5) pick(under(event));
    canvas.focus({ preventScroll: true });
    pressed = null;
  });
  const toModel = () => document.getElementById("model").scrollIntoView();
  document.querySelectorAll("[data-pick]").forEach((button) => button.addEventListener("click", () => {
    set(button.dataset.pick.split(".")[0], true);
    pick(button.dataset.pick);
    if (!button.closest(".viewer")) toModel();
  }));
  document.querySelectorAll("[data-at]").forEach((button) => button.addEventListener("click", () => {
    mark.position.set(...button.dataset.at.split(",").map(Number));
    mark.scale.setScalar(radius * 0.012);
    mark.visible = true;
    look("three-quarter", mark.position);
    const part = button.closest("li").querySelector("[data-pick]");
    pick(part ? part.dataset.pick : null);
    toModel();
  }));
  document.querySelectorAll("[data-way]").forEach((button) => button.addEventListener("click", () => {
    mark.visible = false;
    look(button.dataset.way);
  }));
  const turn = document.querySelector("[data-turn]");
  turn.addEventListener("click", () => {
    controls.autoRotate = !controls.autoRotate;
    turn.setAttribute("aria-pressed", String(controls.autoRotate));
    ask();
  });
  pick(null);

  // -- on paper ---------------------------------------------------------------------------------------------
  const stand = () => {
    renderer.render(scene, camera);
    still.src = canvas.toDataURL("image/png");
  };
  window.addEventListener("beforeprint", stand);
})();
