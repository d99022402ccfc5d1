"""The script anyone would write in an afternoon to cast gaze onto a photo with OpenCV.

The baseline of the benchmark: in every frame ORB with 2,000 features, ratio test 0.75, RANSAC
homography with 5 px; gaze is mapped by the pose of the nearest frame and accepted from 15 inliers on.
It knows the lens (points are undistorted), which is more than most such scripts do.

usage: afternoon.py RENDERS OUT.csv      RENDERS: a folder lookfall-render made
"""
import csv
import os
import sys

import cv2
import numpy as np

FEATURES = 2000
RATIO = 0.75
RANSAC_PX = 5.0
ACCEPT_INLIERS = 15


def read_table(path):
    with open(path, newline="") as file:
        return list(csv.DictReader(file))


def read_camera(path):
    storage = cv2.FileStorage(path, cv2.FILE_STORAGE_READ)
    camera = storage.getNode("camera_matrix").mat()
    distortion = storage.getNode("distortion_coefficients").mat()
    return camera, distortion


def undistort(points, lens):
    points = np.asarray(points, np.float64).reshape(-1, 1, 2)
    if lens is None:
        return points
    return cv2.undistortPoints(points, lens[0], lens[1], P=lens[0])


def find(photos, orb, matcher, gray, lens):
    """The photo with the most inliers: (index, photo_from_frame, inliers), or None."""
    keys, descriptors = orb.detectAndCompute(gray, None)
    if descriptors is None or len(keys) < 2:
        return None
    frame_points = undistort([k.pt for k in keys], lens)
    best = None
    for index, (photo_keys, photo_descriptors, _) in enumerate(photos):
        pairs = matcher.knnMatch(descriptors, photo_descriptors, k=2)
        good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < RATIO * p[1].distance]
        if len(good) < 4:
            continue
        src = frame_points[[m.queryIdx for m in good]]
        dst = np.float64([photo_keys[m.trainIdx].pt for m in good]).reshape(-1, 1, 2)
        pose, mask = cv2.findHomography(src, dst, cv2.RANSAC, RANSAC_PX)
        if pose is None:
            continue
        inliers = int(mask.sum())
        if best is None or inliers > best[2]:
            best = (index, pose, inliers)
    return best


def cast_walk(walk, folder, names, photos, orb, matcher, writer):
    camera = walk.get("camera")
    lens = read_camera(os.path.join(folder, camera)) if camera else None
    video = cv2.VideoCapture(os.path.join(folder, walk["video"]))
    times, poses = [], []
    while True:
        good, frame = video.read()
        if not good:
            break
        times.append(video.get(cv2.CAP_PROP_POS_MSEC) / 1000)
        gray = cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY)
        poses.append(find(photos, orb, matcher, gray, lens))
    times = np.array(times)
    for row in read_table(os.path.join(folder, walk["gaze"])):
        out = [walk["name"], row["t_s"], "", "", "", "", "away", ""]
        if not row["x_px"] or not row["y_px"]:
            out[6] = "lost"
            writer.writerow(out)
            continue
        pose = poses[int(np.argmin(np.abs(times - float(row["t_s"]))))]
        if pose is not None:
            gaze = undistort([[float(row["x_px"]), float(row["y_px"])]], lens)
            x, y = cv2.perspectiveTransform(gaze, pose[1])[0, 0]
            height, width = photos[pose[0]][2]
            if -0.5 <= x < width - 0.5 and -0.5 <= y < height - 0.5:
                state = "sure" if pose[2] >= ACCEPT_INLIERS else "doubtful"
                confidence = min(1.0, pose[2] / (2.0 * ACCEPT_INLIERS))
                out[2:7] = [names[pose[0]], f"{x:.3f}", f"{y:.3f}", f"{confidence:.4f}", state]
        writer.writerow(out)


def main():
    folder, out_path = sys.argv[1:3]
    orb = cv2.ORB_create(FEATURES)
    matcher = cv2.BFMatcher(cv2.NORM_HAMMING)
    names, photos = [], []
    for row in read_table(os.path.join(folder, "photos.csv")):
        image = cv2.imread(os.path.join(folder, row["image"]), cv2.IMREAD_GRAYSCALE)
        names.append(row["name"])
        photos.append((*orb.detectAndCompute(image, None), image.shape))
    with open(out_path, "w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow("walk,t_s,photo,x_px,y_px,confidence,state,radius_px".split(","))
        for walk in read_table(os.path.join(folder, "walks.csv")):
            cast_walk(walk, folder, names, photos, orb, matcher, writer)


if __name__ == "__main__":
    main()
