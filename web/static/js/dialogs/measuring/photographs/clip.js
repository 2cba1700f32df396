// @ts-check
/** Frames of a clip at given times, as JPEG files: the clip is played in the page and never leaves it. */

const QUALITY = 0.95;
const PATIENCE_MS = 20_000;

/** Resolves at the first of an event, rejects where the clip cannot be played or nothing happens. @param {HTMLVideoElement} video @param {string} name @param {AbortSignal} signal */
function once(video, name, signal) {
  return new Promise((resolve, reject) => {
    const late = setTimeout(() => finish(reject, new Error('The clip does not go on.')), PATIENCE_MS);
    const heard = () => finish(resolve, undefined);
    const failed = () => finish(reject, new Error('This browser cannot play the clip. Take photographs, or save the clip as MP4 (H.264) or WebM.'));
    const stopped = () => finish(reject, signal.reason);
    /** @param {(value: any) => void} end @param {unknown} value */
    function finish(end, value) {
      clearTimeout(late);
      video.removeEventListener(name, heard);
      video.removeEventListener('error', failed);
      signal.removeEventListener('abort', stopped);
      end(value);
    }
    video.addEventListener(name, heard);
    video.addEventListener('error', failed);
    signal.addEventListener('abort', stopped);
  });
}

/** @typedef {{ seconds: number, frame: (at_s: number, name: string) => Promise<File>, close: () => void }} Clip */

/** @param {File} file @param {AbortSignal} signal @returns {Promise<Clip>} */
export async function openClip(file, signal) {
  const url = URL.createObjectURL(file);
  const video = document.createElement('video');
  Object.assign(video, { muted: true, playsInline: true, preload: 'auto' });
  const close = () => { video.removeAttribute('src'); video.load(); URL.revokeObjectURL(url); };
  try {
    const ready = once(video, 'loadeddata', signal);
    video.src = url;
    await ready;
    if (!Number.isFinite(video.duration)) { // a clip straight from a recorder tells its length only at its end
      const known = once(video, 'durationchange', signal);
      video.currentTime = 1e9;
      await known;
    }
  } catch (error) { close(); throw error; }
  const canvas = document.createElement('canvas');
  return {
    seconds: video.duration,
    async frame(at_s, name) {
      const there = once(video, 'seeked', signal);
      video.currentTime = Math.min(at_s, Math.max(0, video.duration - 0.001));
      await there;
      canvas.width = video.videoWidth;
      canvas.height = video.videoHeight;
      /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d')).drawImage(video, 0, 0);
      const blob = await new Promise((resolve) => { canvas.toBlob(resolve, 'image/jpeg', QUALITY); });
      if (!blob) throw new Error('A frame of the clip could not be drawn.');
      return new File([blob], name, { type: 'image/jpeg' });
    },
    close,
  };
}
