// Which stretches of the worklist are meant: by walk, photo, reason, settled or not, and in what
// order. They stand in the page's address and go with every request, so that "the next one" is the
// next one of the list the person was looking at.

const NAMES = ["walk", "photo", "reason", "settled", "order"];

export function read_filters(query) {
    const filters = {};
    for (const name of NAMES)
        if (query.get(name))
            filters[name] = query.get(name);
    return filters;
}

export function filter_query(filters) {
    return new URLSearchParams(Object.entries(filters).filter(([, value]) => value)).toString();
}

export function with_filters(path, filters) {
    const query = filter_query(filters);
    return query ? `${path}?${query}` : path;
}
