# Answers to test_stat_reference.c, by R's stats and survival. A question is a line of words; the
# answer is a line of numbers, NA as nan. Exit status 77 where survival is not there.
# Loaded only where it is needed: that takes as long as all the rest.
if (!nzchar(system.file(package = "survival"))) quit(status = 77)

say <- function(...) {
    x <- c(...)
    cat(paste(ifelse(is.na(x), "nan", sprintf("%.17g", x)), collapse = " "), "\n", sep = "")
}

answer <- list(
    wilson = function(x)
        say(suppressWarnings(prop.test(x[1], x[2], conf.level = x[3], correct = FALSE))$conf.int),

    odds = function(x) {
        counts <- cbind(c(x[1], x[3]), c(x[2] - x[1], x[4] - x[3]))
        fit <- glm(counts ~ factor(c("a", "b"), levels = c("b", "a")), family = binomial,
                   control = glm.control(epsilon = 1e-15, maxit = 100))
        say(exp(coef(fit)[2]), exp(confint.default(fit, level = x[5])[2, ]))
    },

    sample = function(x) say(mean(x), median(x)),

    # level, then times, then 1 for an event
    survival = function(x) {
        library(survival)
        n <- (length(x) - 1) / 2
        fit <- survfit(Surv(x[1 + 1:n], x[1 + n + 1:n]) ~ 1, conf.type = "log-log", conf.int = x[1])
        middle <- quantile(fit, 0.5)
        say(middle$quantile, middle$lower, middle$upper, length(fit$time),
            rbind(fit$time, fit$n.risk, fit$n.event, fit$n.censor, fit$surv,
                  ifelse(fit$surv > 0, fit$std.err^2, NA), fit$lower, fit$upper))
    },

    # times, events, groups from 0
    logrank = function(x) {
        library(survival)
        n <- length(x) / 3
        fit <- survdiff(Surv(x[1:n], x[n + 1:n]) ~ x[2 * n + 1:n])
        df <- sum(fit$exp > 0) - 1
        say(fit$chisq, df, pchisq(fit$chisq, df, lower.tail = FALSE), rbind(fit$obs, fit$exp),
            (fit$obs[1] - fit$exp[1]) / fit$var[1, 1], fit$var[1, 1])
    },

    adjust = function(x) say(p.adjust(x, "holm"), p.adjust(x, "BH")),

    # size of the first group, then values
    effect = function(x) {
        a <- x[1 + 1:x[1]]
        b <- x[-(1:(1 + x[1]))]
        d <- t.test(a, b, var.equal = TRUE)$statistic * sqrt(1 / length(a) + 1 / length(b))
        u <- suppressWarnings(wilcox.test(a, b, exact = FALSE))$statistic
        say(d, 2 * u / (length(a) * length(b)) - 1)
    },

    # values, groups
    eta = function(x) {
        n <- length(x) / 2
        squares <- anova(lm(x[1:n] ~ factor(x[n + 1:n])))[["Sum Sq"]]
        say(squares[1] / sum(squares))
    },

    # size of the first group, then values: all deals, by the difference of means
    permutation = function(x) {
        values <- x[-1]
        n <- length(values)
        far <- utils::combn(n, x[1], function(at) abs(mean(values[at]) - mean(values[-at])))
        seen <- abs(mean(values[1:x[1]]) - mean(values[-(1:x[1])]))
        say(mean(far >= seen - 1e-9), length(far))
    },

    # sizes of two groups, then values of three: all deals, by F
    permutation3 = function(x) {
        values <- x[-(1:2)]
        n <- length(values)
        f <- function(a, b) {
            group <- rep(3, n)
            group[a] <- 1
            group[b] <- 2
            summary(aov(values ~ factor(group)))[[1]][["F value"]][1]
        }
        seen <- f(1:x[1], x[1] + 1:x[2])
        far <- unlist(utils::combn(n, x[1], simplify = FALSE, FUN = function(a)
            utils::combn(setdiff(1:n, a), x[2], function(b) f(a, b))))
        say(mean(far >= seen - 1e-9), length(far))
    },

    # yes and number of two groups: all tables, by the difference of shares
    tables = function(x) {
        ones <- x[1] + x[3]
        in_a <- 0:min(ones, x[2])
        in_a <- in_a[ones - in_a <= x[4]]
        far <- abs(in_a / x[2] - (ones - in_a) / x[4])
        p <- dhyper(in_a, ones, x[2] + x[4] - ones, x[2])
        say(sum(p[far >= abs(x[1] / x[2] - x[3] / x[4]) - 1e-12]))
    },

    # 0 mean or 1 median, two points, level, then values: the whole bootstrap distribution. The
    # share of it below each point, that up to each point, the levels BCa asks for, the deviation.
    bootstrap = function(x) {
        centre <- if (x[1] == 0) mean else median
        values <- x[-(1:4)]
        n <- length(values)
        all <- apply(expand.grid(rep(list(1:n), n)), 1, function(at) centre(values[at]))
        near <- 1e-9
        low <- sapply(x[2:3], function(q) mean(all < q - near))
        up <- sapply(x[2:3], function(q) mean(all <= q + near))
        seen <- centre(values)
        z0 <- qnorm(mean(all < seen - near) + mean(abs(all - seen) <= near) / 2)
        without <- sapply(1:n, function(i) centre(values[-i]))
        d <- mean(without) - without
        a <- if (any(d != 0)) sum(d^3) / (6 * sum(d^2)^1.5) else 0
        z <- z0 + qnorm(c((1 - x[4]) / 2, (1 + x[4]) / 2))
        say(low, up, pnorm(z0 + z / (1 - a * z)), sqrt(mean((all - mean(all))^2)))
    },

    # 0 mean or 1 median, two points, size of the first group, then values: the same for the
    # difference of two groups
    difference = function(x) {
        centre <- if (x[1] == 0) mean else median
        each <- function(values)
            apply(expand.grid(rep(list(seq_along(values)), length(values))), 1,
                  function(at) centre(values[at]))
        values <- x[-(1:4)]
        all <- outer(each(values[1:x[4]]), each(values[-(1:x[4])]), "-")
        say(sapply(x[2:3], function(q) mean(all < q - 1e-9)),
            sapply(x[2:3], function(q) mean(all <= q + 1e-9)), sqrt(mean((all - mean(all))^2)))
    }
)

for (line in readLines("stdin")) {
    words <- strsplit(trimws(line), " +")[[1]]
    answer[[words[1]]](suppressWarnings(as.numeric(words[-1])))
}
