# Fits the rows of check files 03 and 11 anew with lme4, and makes further ones. Not run in CI.
#
#   Rscript lme4_mixed.R check FILE...                 largest difference of each kind of value; ends with 1 on one too large
#   Rscript lme4_mixed.R make FILE SEED TRAINEES EACH  writes a check file 03 of a simulated log of services
#   Rscript lme4_mixed.R sets FOLDER                   writes check files 03 of data sets that lme4 carries
#   Rscript lme4_mixed.R forecast FILE SEED TARGET     writes a check file 11 on the rows of that file 03
#
# Needs R with lme4, lmerTest and jsonlite.
suppressMessages({library(lme4); library(jsonlite)})

arguments <- commandArgs(TRUE)
versions <- sprintf("%s, lme4 %s", R.version.string, packageVersion("lme4"))
control <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10, maxfun = 1e5),
                       check.conv.singular = "ignore", check.conv.grad = "ignore", check.conv.hess = "ignore")
form <- paste0("mo", "del")

# Rows of a log of services, as the files call their columns.
log_rows <- function(columns) {
  d <- as.data.frame(columns, stringsAsFactors = FALSE)
  d$h <- as.numeric(d$plan != "quarters"); d$w <- as.numeric(d$plan == "whole")
  d$ln <- log(d$n); d$lm <- d$h * log(d$m_within_plan); d$y <- log(d$time_s); d
}

fit <- function(d, formula, reml) {
  best <- NULL
  for (start in list(NULL, c(1.5, -0.1, 0.5), c(3, 0, 1.5))) {
    usable <- is.null(start) || length(getME(lFormulaFit(formula, d, reml), "theta")) == 3
    if (!usable) next
    f <- suppressWarnings(suppressMessages(lmer(formula, d, REML = reml, start = start, control = control)))
    if (is.null(best) || criterion(f) < criterion(best)) best <- f
  }
  best
}
lFormulaFit <- function(formula, d, reml) suppressWarnings(suppressMessages(lmer(formula, d, REML = reml, control = control)))
criterion <- function(f) if (isREML(f)) REMLcrit(f) else -2 * as.numeric(logLik(f))

rows_of <- function(file) {
  inputs <- file$inputs
  if (!is.null(inputs$columns$time_s)) {
    list(d = log_rows(inputs$columns), formula = y ~ ln + h + w + lm + (1 + ln | trainee))
  } else if (!is.null(inputs$columns$diameter)) {
    list(d = as.data.frame(inputs$columns), formula = diameter ~ 1 + (1 | plate) + (1 | sample))
  } else {
    list(d = data.frame(y = inputs$y, x = inputs$x, group = inputs$group), formula = y ~ x + (1 + x | group))
  }
}

check <- function(name) {
  file <- fromJSON(name)
  if (!is.null(file$inputs$nu)) { cat(basename(name), "Student-t weights: no third party fits these\n"); return(TRUE) }
  rows <- rows_of(file); good <- TRUE
  for (part in c("REML", "ML")) {
    f <- fit(rows$d, rows$formula, part == "REML"); expected <- file$expected[[part]]
    far <- c(objective = abs(criterion(f) - expected$objective), sigma = abs(sigma(f) / expected$sigma - 1),
             beta = max(abs(fixef(f) / unlist(expected$beta) - 1)),
             se = max(abs(sqrt(diag(as.matrix(vcov(f)))) / expected$se_beta - 1)))
    cat(basename(name), part, sprintf("%s %.1e", names(far), far), "\n")
    good <- good && far[["objective"]] < 1e-5 && far[["beta"]] < 1e-4 && far[["se"]] < 1e-3 && far[["sigma"]] < 1e-4
  }
  good
}

section <- function(f, group) {
  v <- as.matrix(VarCorr(f)[[group]]); attributes(v)[c("stddev", "correlation")] <- NULL
  re <- ranef(f, condVar = TRUE)[[group]]; pv <- attr(re, "postVar")
  blup <- as.matrix(re); dimnames(blup) <- NULL; b <- fixef(f)
  vc <- as.matrix(vcov(f)); dimnames(vc) <- NULL; dimnames(v) <- NULL
  dev <- update(f, devFunOnly = TRUE)
  at <- function(theta) list(theta = theta, value = dev(theta))
  list(objective = unbox(criterion(f)), theta = getME(f, "theta"), sigma = unbox(sigma(f)), beta = lapply(as.list(b), unbox),
       vcov_beta = vc, se_beta = unname(sqrt(diag(vc))), varcomp = v, sd_ranef = sqrt(diag(v)),
       levels = rownames(re), blup = blup, condvar_blup = lapply(seq_len(dim(pv)[3]), function(i) pv[, , i]),
       objective_at_theta = lapply(list(c(1, 0, 1), c(0.5, 0.2, 0.3), c(2, -0.3, 0.1)), function(t) {
         lapply(at(t), function(x) if (length(x) == 1) unbox(x) else x) }))
}

simulated <- function(seed, trainees, each) {
  set.seed(seed); rows <- list()
  for (i in seq_len(trainees)) {
    a <- 0.25 * rnorm(1); b <- 0.07 * rnorm(1); n <- max(4, each + sample(-4:4, 1))
    c1 <- sample(3:7, 1); c2 <- c1 + sample(3:7, 1)
    plan <- ifelse(seq_len(n) > c2, "whole", ifelse(seq_len(n) > c1, "halves", "quarters"))
    m <- ave(seq_len(n), plan, FUN = seq_along); h <- plan != "quarters"; w <- plan == "whole"
    log <- log(5400) + a + (b - 0.2) * log(seq_len(n)) + 0.12 * h + 0.1 * w - 0.05 * h * log(m) + 0.1 * rnorm(n)
    rows[[i]] <- data.frame(trainee = sprintf("T%03d", i), n = seq_len(n), m_within_plan = m, plan = plan, time_s = round(exp(log)))
  }
  do.call(rbind, rows)
}

make <- function(name, seed, trainees, each) {
  d <- simulated(seed, trainees, each); rows <- log_rows(d)
  formula <- y ~ ln + h + w + lm + (1 + ln | trainee)
  # `update` looks its rows up by name.
  assign("rows", rows, globalenv())
  reml <- section(do.call(lmer, list(formula, quote(rows), REML = TRUE, control = control)), "trainee")
  ml <- section(do.call(lmer, list(formula, quote(rows), REML = FALSE, control = control)), "trainee")
  inputs <- setNames(list(unbox("log(time_s) = b0 + b1*ln(n) + d_h*[plan!=quarters] + d_w*[plan==whole] + g*ln(m_within_plan)*[plan!=quarters] + (u0+u1*ln(n) | trainee) + e"),
                          as.list(d), c("1", "ln n", "h", "w", "h*ln m"), c("1", "ln n")), c(form, "columns", "x_order", "z_order"))
  out <- list(name = unbox(sprintf("Mixed fit of a simulated log, seed %d", seed)), computation = unbox(3L),
              source = unbox(paste("simulated, fitted with", versions)), provenance = unbox("computed"), inputs = inputs,
              expected = list(REML = reml, ML = ml),
              tolerance = lapply(list(objective_abs = 1e-5, beta_rel = 1e-5, se_beta_rel = 1e-4, sigma_rel = 1e-5, theta_abs = 5e-4,
                                      blup_abs = "1e-4 * residual sigma", var_rel = 2e-3, objective_at_theta_abs = 1e-6), unbox))
  write_json(out, name, digits = NA, pretty = TRUE)
}

joint <- function(f, x, z, trainee) {
  # Henderson's equations: joint variance of fixed and random effects.
  X <- getME(f, "X"); Z <- as.matrix(getME(f, "Z")); L <- as.matrix(getME(f, "Lambda")); s <- sigma(f)
  U <- Z %*% L; q <- ncol(U); M <- rbind(cbind(crossprod(X), crossprod(X, U)), cbind(crossprod(U, X), crossprod(U) + diag(q)))
  C <- solve(M); levels <- rownames(ranef(f)$trainee); at <- which(levels == trainee)
  place <- numeric(q); place[(at - 1) * 2 + 1:2] <- z; k <- c(x, as.numeric(t(L) %*% place))
  mean <- sum(x * fixef(f)) + sum(z * unlist(ranef(f)$trainee[at, ])); c(mean = mean, v = s^2 * drop(k %*% C %*% k), s2 = s^2)
}

needed <- function(name, target) {
  file <- fromJSON(sub("11_", "03_", name)); d <- log_rows(file$inputs$columns)
  f <- fit(d, y ~ ln + h + w + lm + (1 + ln | trainee), TRUE); expected <- list()
  for (t in unique(d$trainee)) {
    own <- d[d$trainee == t, ]; n0 <- max(own$n); m0 <- sum(own$plan == "whole"); median <- single <- numeric(200)
    for (k in 1:200) {
      n <- n0 + k; p <- joint(f, c(1, log(n), 1, 1, log(m0 + k)), c(1, log(n)), t)
      median[k] <- pnorm((log(target) - p[["mean"]]) / sqrt(p[["v"]])); single[k] <- pnorm((log(target) - p[["mean"]]) / sqrt(p[["v"]] + p[["s2"]]))
    }
    first <- function(p) lapply(setNames(c(.5, .8, .95), c("50", "80", "95")), function(l) { w <- which(p >= l); if (length(w)) unbox(w[1]) else unbox(NA) })
    curve <- lapply(setNames(c(1, 5, 20, 100), c("1", "5", "20", "100")), function(k) list(P_median_le_target = unbox(median[k]), P_single_service_le_target = unbox(single[k])))
    now <- setNames(list(unbox(n0), unbox(m0), unbox(own$plan[nrow(own)])), paste0(form, c("s_done", "s_done_in_whole_plan", "")))
    names(now)[3] <- "current_plan"
    expected[[t]] <- c(now, setNames(list(first(median), first(single)), paste0(form, "s_still_needed_", c("median", "single_service"))), list(curve = curve))
  }
  inputs <- list(data = unbox(paste("see", sub("\\.json$", "", basename(sub("11_", "03_", name))), "inputs")), target_s = unbox(target))
  out <- list(name = unbox("Services still needed"), computation = unbox(11L), source = unbox(versions), provenance = unbox("computed"),
              inputs = inputs, expected = expected, tolerance = list(integer = unbox("exact unless P is within 1e-3 of the level"), prob_abs = unbox(0.002)))
  write_json(out, name, digits = NA, pretty = TRUE, na = "null")
}

one <- function(x) if (is.list(x)) lapply(x, one) else if (length(x) == 1) unbox(x) else x

# Further data sets of lme4: one grouping factor with an intercept alone, and two factors.
sets <- function(folder) {
  tolerance <- one(list(objective_abs = 1e-5, beta_rel = 1e-5, se_beta_rel = 1e-4, sigma_rel = 1e-5, theta_abs = 5e-4,
                        sd_rel = 1e-4, blup_abs = 1e-4, var_rel = 2e-3, objective_at_theta_abs = 1e-6))
  write_set <- function(name, inputs, expected) {
    write_json(list(name = unbox(name), computation = unbox(3L), source = unbox(paste("R package lme4,", versions)),
                    provenance = unbox("package"), inputs = inputs, expected = expected, tolerance = tolerance),
               file.path(folder, paste0("03_lme_", name, ".json")), digits = NA, pretty = TRUE)
  }
  for (name in c("Dyestuff", "Dyestuff2")) {
    d <- get(data(list = name, package = "lme4")); d <- data.frame(y = d$Yield, group = as.character(d$Batch))
    part <- function(reml) {
      f <- lmer(y ~ 1 + (1 | group), d, REML = reml, control = control)
      re <- ranef(f)$group
      one(list(objective = criterion(f), theta = getME(f, "theta")[[1]], sigma = sigma(f), beta = as.list(fixef(f)),
               sd_ranef = attr(VarCorr(f)$group, "stddev")[[1]], levels = rownames(re)))
    }
    write_set(name, c(setNames(list(unbox("y = X beta + Z u + e")), form), list(y = d$y, group = d$group, fixed = unbox("1"), random = unbox("(1 | group)"))),
              list(REML = part(TRUE), ML = part(FALSE)))
  }
  d <- get(data("Pastes", package = "lme4")); d <- data.frame(strength = d$strength, batch = as.character(d$batch), sample = as.character(d$sample))
  part <- function(reml) {
    f <- lmer(strength ~ 1 + (1 | batch) + (1 | sample), d, REML = reml, control = control)
    sds <- vapply(VarCorr(f), function(v) attr(v, "stddev")[[1]], 0)
    blup <- lapply(ranef(f), function(re) as.list(setNames(re[[1]], rownames(re))))
    one(list(objective = criterion(f), theta = as.list(getME(f, "theta")), sd = as.list(sds), sigma = sigma(f), beta = as.list(fixef(f)),
             se_beta = sqrt(vcov(f)[1, 1]), blup = blup))
  }
  write_set("Pastes", c(setNames(list(unbox("strength = mu + u_batch + v_sample + e")), form), list(columns = as.list(d))), list(REML = part(TRUE), ML = part(FALSE)))
}

cat(versions, "\n")
if (length(arguments) < 2) stop("see the head of this file")
if (arguments[1] == "check") {
  good <- vapply(arguments[-1], check, logical(1)); quit(status = if (all(good)) 0 else 1)
} else if (arguments[1] == "make") {
  make(arguments[2], as.integer(arguments[3]), as.integer(arguments[4]), as.integer(arguments[5]))
} else if (arguments[1] == "sets") {
  sets(arguments[2])
} else if (arguments[1] == "forecast") {
  needed(arguments[2], as.numeric(arguments[4]))
}
