// Draws the animator's own character. Where each of its bones is comes from the engine; here it is only put there, and drawn.
// The page loads this as model.bundle.js, together with the library: MOTET_UPDATE=1 go test ./server/watch -run Bundle
import { AmbientLight, DirectionalLight, LoadingManager, Matrix4, OrthographicCamera, Scene, Vector3, WebGLRenderer } from 'three';
import { GLTFLoader } from 'three/addons/loaders/GLTFLoader.js';

const metre = 100; // cm; the unit of glTF 2.0 is the metre

// canDraw tells whether this browser draws in three dimensions.
export function canDraw() { return Boolean(document.createElement('canvas').getContext('webgl2')); }

function floats(text) { return new Float32Array(Uint8Array.from(atob(text), c => c.charCodeAt(0)).buffer); }

export class Model {
  // load reads the model that a sheet's rig names.
  static async load(sheet) {
    const query = file => `model?path=${encodeURIComponent(sheet.path)}&file=${encodeURIComponent(file)}`;
    const answer = await fetch(query(sheet.model.File));
    if (!answer.ok) throw new Error((await answer.text()).trim());
    const manager = new LoadingManager();
    manager.setURLModifier(url => /^(blob|data):/.test(url) ? url : query(decodeURIComponent(url)));
    const bytes = await answer.arrayBuffer();
    const gltf = await new GLTFLoader(manager).parseAsync(bytes, '').catch(error => {
      throw new Error(`it can’t be read as glTF 2.0 (${error.message})`);
    });
    if (!gltf.scene) throw new Error('it has no scene');
    return new Model(gltf);
  }

  constructor(gltf) {
    this.scene = new Scene();
    this.scene.matrixWorldAutoUpdate = false; // the bones stand where the engine says
    this.scene.add(new AmbientLight(0xffffff, 1.6), this.sun = new DirectionalLight(0xffffff, 2.2), gltf.scene);
    this.root = gltf.scene;
    this.camera = new OrthographicCamera();
    this.camera.matrixAutoUpdate = this.camera.matrixWorldAutoUpdate = false;
    gltf.scene.updateMatrixWorld(true);
    this.nodes = [];
    gltf.scene.traverse(object => {
      object.frustumCulled = false;
      const index = gltf.parser.associations.get(object)?.nodes;
      if (index === undefined || this.nodes[index]) return;
      this.nodes[index] = { object, name: gltf.parser.json.nodes[index].name ?? '', rest: object.matrixWorld.clone() };
    });
    const nodes = new Set(this.nodes.map(node => node?.object));
    this.blends = this.nodes.flatMap((node, index) => {
      // A mesh of several parts is a group, whose children may be nodes of their own too.
      const meshes = node ? [node.object, ...node.object.children.filter(child => !nodes.has(child))].filter(object => object.morphTargetInfluences) : [];
      return meshes.length ? [{ node, meshes, ...targetsOf(gltf.parser.json, index, meshes[0].morphTargetInfluences.length) }] : [];
    });
  }

  // seat finds the node of each joint: that of its number if it has its name, or else the only one of its name.
  seat(told) {
    if (this.told === told) return;
    this.told = told;
    told.rest ??= floats(told.Rest);
    told.turns ??= floats(told.Turns);
    told.weights ??= floats(told.Weights);
    this.driven = new Map();
    this.seatTargets(told);
    told.Nodes.forEach(({ Number: number, Name: name }, joint) => {
      const node = this.find(number, name);
      if (!node) return;
      const before = new Matrix4().fromArray(frame(told.rest, joint * 12, told.rest.subarray(joint * 12 + 9)));
      if (number < 0) {
        // Nobody says that the node's axes are the joint's, so the node goes as far from its own rest as the joint does.
        before.invert().multiply(node.rest);
      } else {
        // An import has made the joint of the node, and left to the model how large it is at rest.
        before.makeScale(...new Vector3().setFromMatrixScale(node.rest).toArray());
      }
      this.driven.set(node.object, { joint, before });
    });
    return this.driven.size;
  }

  find(number, name) {
    const named = this.nodes.filter(node => node?.name === name);
    return number >= 0 && this.nodes[number]?.name === name ? this.nodes[number] : named.length === 1 ? named[0] : null;
  }

  // seatTargets finds the targets of the meshes that each of the rig's is. What the rig does not know keeps its weight.
  seatTargets(told) {
    this.shapes = [];
    for (const { node, meshes, names, rest } of this.blends) {
      names.forEach((name, target) => {
        const from = told.Targets.flatMap(({ Name, On, Node }, i) => Name === name && (!On || this.find(Node.Number, Node.Name) === node) ? [i] : []);
        if (from.length) this.shapes.push({ meshes, target, from });
        else for (const mesh of meshes) mesh.morphTargetInfluences[target] = rest[target] ?? 0;
      });
    }
  }

  // blend gives the meshes' targets their weights: a share of the way from one sample to the next.
  blend(sample, next, share) {
    const { weights } = this.told, all = this.told.Targets.length;
    for (const { meshes, target, from } of this.shapes) {
      let weight = 0;
      for (const i of from) weight += weights[sample * all + i] * (1 - share) + weights[next * all + i] * share;
      for (const mesh of meshes) mesh.morphTargetInfluences[target] = weight;
    }
  }

  // pose puts the bones where they are at a time, of which places are the joints'.
  pose(motion, time, places) {
    const { Count, Step, Closed, Length } = motion, { turns } = this.told, all = this.told.Nodes.length * 9;
    const at = (Closed ? ((time % Length) + Length) % Length : Math.min(Math.max(time, 0), Length)) / Step;
    const i = Math.min(Math.floor(at + 1e-9), Count - 1), k = i + 1 < Count ? i + 1 : Closed ? 0 : i, rest = Math.max(0, at - i);
    this.blend(i, k, rest);
    const axes = new Float32Array(9), world = new Matrix4();
    const place = (object, parent) => {
      const drive = this.driven.get(object);
      if (drive) {
        for (let n = 0; n < 9; n++) {
          const from = turns[i * all + drive.joint * 9 + n];
          axes[n] = from + (turns[k * all + drive.joint * 9 + n] - from) * rest;
        }
        object.matrixWorld.multiplyMatrices(world.fromArray(frame(axes, 0, places.subarray(drive.joint * 3))), drive.before);
      } else {
        object.updateMatrix();
        object.matrixWorld.multiplyMatrices(parent, object.matrix);
      }
      if (object.isSkinnedMesh) object.bindMatrixInverse.copy(object.matrixWorld).invert();
      for (const child of object.children) place(child, object.matrixWorld);
    };
    place(this.root, this.scene.matrixWorld);
  }

  // look sees the scene as the paper figure is seen: a turn, from a little above, without perspective; at is where the middle
  // of the ground is on a canvas, in pixels, and scale pixels a cm.
  look(turn, down, at, scale, width, height) {
    const [sin, cos, low, level] = [Math.sin(turn), Math.cos(turn), Math.sin(down), Math.cos(down)], one = scale * metre;
    const right = new Vector3(cos, 0, sin), up = new Vector3(sin * low, level, -cos * low), near = new Vector3(-sin * level, low, cos * level);
    Object.assign(this.camera, { left: -at[0] / one, right: (width - at[0]) / one, top: at[1] / one, bottom: (at[1] - height) / one, near: 0, far: 200 });
    this.camera.updateProjectionMatrix();
    this.camera.matrixWorld.makeBasis(right, up, near).setPosition(near.clone().multiplyScalar(100));
    this.camera.matrixWorldInverse.copy(this.camera.matrixWorld).invert();
    this.sun.matrixWorld.setPosition(near.clone().add(up).addScaledVector(right, -0.6));
    this.sun.target.matrixWorld.identity();
  }
}

// targetsOf are what the targets of a node's mesh are called, and their weights at rest. Each name is its first target's;
// another one of that name, or one without any, is called by its place, as an import does.
function targetsOf(json, index, count) {
  const { mesh, weights } = json.nodes[index], from = json.meshes[mesh], taken = new Set();
  const given = Array.isArray(from.extras?.targetNames) ? from.extras.targetNames : [];
  const names = Array.from({ length: count }, (_, i) => {
    const name = typeof given[i] === 'string' ? plain(given[i]) : '';
    if (!name || taken.has(name)) return null;
    taken.add(name);
    return name;
  });
  names.forEach((name, i) => {
    if (name !== null) return;
    name = String(i);
    while (taken.has(name)) name += '\'';
    taken.add(names[i] = name);
  });
  return { names, rest: weights ?? from.weights ?? [] };
}

// plain is a name as a rig's comment can hold it.
function plain(name) { return name.normalize('NFC').replaceAll('"', '\'').replace(/[\u0000-\u001f\u007f\u0085\u2028\u2029\ufeff\ufffd]/g, ' '); }

// frame is a transform for the library: three axes, and a place in cm.
function frame(axes, from, place) {
  return [
    axes[from], axes[from + 1], axes[from + 2], 0, axes[from + 3], axes[from + 4], axes[from + 5], 0,
    axes[from + 6], axes[from + 7], axes[from + 8], 0, place[0] / metre, place[1] / metre, place[2] / metre, 1,
  ];
}

// Brush draws models onto a canvas of its own, from which they are taken.
export class Brush {
  // onLost is called when the browser takes its means away.
  constructor(onLost) {
    this.renderer = new WebGLRenderer({ alpha: true, antialias: true, preserveDrawingBuffer: true });
    this.renderer.setClearAlpha(0);
    this.renderer.domElement.addEventListener('webglcontextlost', onLost);
  }

  draw(model, width, height, ratio) {
    const { renderer } = this;
    renderer.setPixelRatio(ratio);
    const canvas = renderer.domElement;
    if (canvas.width !== Math.floor(width * ratio) || canvas.height !== Math.floor(height * ratio)) renderer.setSize(width, height, false);
    renderer.render(model.scene, model.camera);
    return canvas;
  }
}
